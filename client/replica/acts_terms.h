#pragma once

// What a keeper states about terms under a name, and about counts that he witnesses. Errors as in
// acts_animal.h.

#include <optional>
#include <string>

#include "client/facts/terms.h"
#include "client/replica/acting.h"

namespace broodpact::replica {

// Terms to be saved; their parties have roles and no keepers.
struct FormDraft {
  std::string name{};
  facts::Terms terms{};
  std::optional<FormId> replaced{};  // a new version of this form; nothing: a new form
};

// Errors: those of ParseFormTerms; UNKNOWN_SUBJECT.
absl::StatusOr<Made<FormId>> SaveTerms(Replica& replica, const FormDraft& draft);

// The terms of a form as this replica knows it.
// Errors: UNKNOWN_SUBJECT.
absl::StatusOr<facts::Terms> TermsOfForm(const Replica& replica, const FormId& form);

// Confirms the count of a clutch that stands.
// Errors: FAILED_PRECONDITION with reason CLUTCH_NOT_COUNTED; UNKNOWN_SUBJECT.
absl::StatusOr<Acted> WitnessCount(Replica& replica, const ClutchId& clutch, const DaySpan& day);

}  // namespace broodpact::replica
