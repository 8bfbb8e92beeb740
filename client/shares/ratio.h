#pragma once

// The shares that hold for one sac, and the account in which their remainders carry over.
//
// Pure, and whole-number arithmetic throughout.

#include <cstdint>
#include <optional>
#include <vector>

#include "client/base/id.h"
#include "client/facts/terms.h"
#include "client/shares/claimant.h"
#include "client/shares/running.h"

namespace broodpact::shares {

// The shares of the rest for a female's sac of this number under the loan, from 1.
const std::vector<facts::RatioShare>& SharesOf(const facts::Terms& terms, std::uint32_t sac_number);

// The same as claimants, in the same order.
std::vector<Claimant> ClaimantsOf(const facts::Terms& terms, std::uint32_t sac_number);

// How remainders carry over by these terms; nothing where they do not.
std::optional<RunningMethod> RunningMethodOf(const facts::Terms& terms);

// The account of what the same parties shared at the same ratio by the same method, whatever the
// loan: 4 : 2 is 2 : 1, and the order in which a paper names its parties is nothing. Nothing where
// no remainder carries over: by terms that say so, or with fewer than two shares.
std::optional<CarryId> CarryIdOf(const facts::Terms& terms, std::uint32_t sac_number);

// What is carried on after `slings` more, `carried` being within the bound that this keeps: another
// clutch of any size can follow. Beyond the bound it begins anew at a total of which everybody has
// exactly the quota, so that nothing is lost.
std::uint32_t CarriedAfter(const facts::Terms& terms, std::uint32_t sac_number,
                           std::uint32_t carried, std::uint32_t slings);

}  // namespace broodpact::shares
