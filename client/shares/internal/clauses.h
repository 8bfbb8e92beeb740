#pragma once

// The clauses that share no slings out, as sentences.

#include <string>
#include <vector>

#include "client/facts/terms.h"
#include "client/shares/split.h"

namespace broodpact::shares::internal {

// Losses, deaths, the way back, carriage, dead arrivals, failures and who decides, in that order:
// a sentence each, for those that say something or have a default worth knowing.
void AddCareClauses(const facts::Terms& terms, const ClauseNames& names,
                    std::vector<std::string>& clauses);

}  // namespace broodpact::shares::internal
