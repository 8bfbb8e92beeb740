#pragma once

// Amendments of a loan's agreement, as the rules of its signatures and refusals need them.

#include <cstddef>
#include <optional>
#include <string_view>
#include <vector>

#include "client/registry/internal/rules.h"

namespace broodpact::registry {

// When the last of these signatures came in. The last in the log need not be it: a signature that
// arrived again after a loss counts from when it first did.
std::int64_t LastSigned(const std::vector<SignatureRecord>& signatures);

// The place among the loan's versions of the one with that digest, the latest if there are several.
std::optional<std::size_t> AmendmentOf(const Loan& loan, const Hash& digest);

// A signature or refusal of the version at `index`.
Finding SignAmendment(Case& c, const LoanId& id, std::size_t index);
Finding RefuseAmendment(Case& c, const facts::LoanRefusal& s, std::size_t index);

// SUPERSEDED OFFER_EXPIRED if, by the log's clock, the last day to sign is over.
Finding CheckStillOpen(const Case& c, std::optional<Day> open_until, std::string_view what);

}  // namespace broodpact::registry
