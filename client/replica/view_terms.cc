// Terms under a name, as messages.

#include <algorithm>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/replica/internal/bulk.h"
#include "client/replica/internal/messages.h"
#include "client/replica/internal/terms_text.h"
#include "client/replica/internal/words.h"
#include "client/replica/view.h"
#include "client/shares/ratio.h"
#include "client/shares/split.h"

namespace broodpact::replica {
namespace {

// Forms are looked through whole: a cooperative has a few.
constexpr std::size_t kFormsMax = 1'000;

// The first sac of a loan whose female is not paired yet: what is known of it is what carries over.
absl::StatusOr<shares::Occasion> FirstOccasion(const registry::Source& source,
                                               const facts::Terms& terms) {
  shares::Occasion occasion;
  const std::optional<CarryId> id = shares::CarryIdOf(terms, occasion.sac_number);
  if (!id) return occasion;
  BP_ASSIGN_OR_RETURN(const auto carry, registry::Read<registry::Carry>(source, *id));
  if (carry) occasion.carried_slings = carry->slings;
  return occasion;
}

}  // namespace

absl::StatusOr<v1::SavedTerms> View::Form(const FormId& id) const {
  BP_ASSIGN_OR_RETURN(const std::optional<registry::Form> form,
                      registry::Read<registry::Form>(source_, id));
  if (!form) {
    return Fail(absl::StatusCode::kNotFound, "UNKNOWN_SUBJECT",
                fmt::format("there are no terms {}; `broodpact terms list` shows what there is",
                            ToShortText(id)));
  }
  Messages writer(source_, provisional_);
  v1::SavedTerms message = writer.Of(*form);
  BP_RETURN_IF_ERROR(writer.status());
  return message;
}

absl::StatusOr<v1::SavedTermsList> View::Forms() const {
  BP_ASSIGN_OR_RETURN(const std::vector<registry::StoredSubject> page,
                      source_.SubjectsOfKind(registry::Kind::kForm, std::nullopt, kFormsMax));
  std::vector<registry::Form> forms;
  for (const registry::StoredSubject& stored : page) {
    BP_RETURN_IF_ERROR(DecodeOnto(forms, stored.value));
  }
  std::ranges::sort(forms, {}, &registry::Form::name);
  Messages writer(source_, provisional_);
  v1::SavedTermsList list;
  for (const registry::Form& form : forms) *list.add_forms() = writer.Of(form);
  BP_RETURN_IF_ERROR(writer.status());
  return list;
}

absl::StatusOr<v1::Split> View::SplitOfTerms(const facts::Terms& terms,
                                             const std::optional<Day>& return_day,
                                             std::uint32_t slings) const {
  BP_RETURN_IF_ERROR(facts::CheckTerms(terms));
  BP_ASSIGN_OR_RETURN(const shares::Occasion occasion, FirstOccasion(source_, terms));
  BP_ASSIGN_OR_RETURN(const shares::Split split, shares::SplitOf(terms, slings, occasion));
  RefBook refs(source_);
  const shares::ClauseNames names = NamesFor(terms, refs);
  v1::Split message;
  message.set_slings_counted(slings);
  message.set_carried_slings(occasion.carried_slings);
  for (std::string& clause : shares::Clauses(terms, names)) {
    message.add_working(std::move(clause));
  }
  for (const shares::Step& step : split.working) {
    message.add_working(shares::Sentence(step, terms, names.parties));
  }
  for (std::size_t i = 0; i < split.slings.size(); ++i) {
    v1::SplitPart& part = *message.add_parts();
    *part.mutable_keeper() = refs.Ref(split.keepers[i]);
    part.set_slings(split.slings[i]);
  }
  for (v1::Remark& remark : RemarksOf(terms, return_day, names.parties)) {
    *message.add_findings() = std::move(remark);
  }
  BP_RETURN_IF_ERROR(refs.status());
  return message;
}

absl::StatusOr<v1::SplitCurve> View::CurveOfLoan(const LoanId& id,
                                                 const shares::SizeRange& range) const {
  BP_ASSIGN_OR_RETURN(const std::optional<registry::Loan> loan,
                      registry::Read<registry::Loan>(source_, id));
  if (!loan) {
    return Fail(absl::StatusCode::kNotFound, "UNKNOWN_SUBJECT",
                fmt::format("there is no loan {}", ToShortText(id)));
  }
  BP_ASSIGN_OR_RETURN(const facts::Agreement agreement, facts::ParseAgreement(loan->agreement));
  return CurveOfTerms(agreement.terms, range);
}

absl::StatusOr<v1::SplitCurve> View::CurveOfTerms(const facts::Terms& terms,
                                                  const shares::SizeRange& range) const {
  BP_RETURN_IF_ERROR(facts::CheckTerms(terms));
  BP_ASSIGN_OR_RETURN(const shares::Occasion occasion, FirstOccasion(source_, terms));
  BP_ASSIGN_OR_RETURN(const shares::Curve curve, shares::CurveOf(terms, range, occasion));
  RefBook refs(source_);
  const std::vector<std::string> names = refs.Names(curve.keepers);
  BP_RETURN_IF_ERROR(refs.status());
  return CurveMessage(curve, names);
}

}  // namespace broodpact::replica
