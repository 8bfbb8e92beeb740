#include "client/shares/split.h"

#include <algorithm>
#include <utility>

#include <fmt/core.h>

#include "client/base/status.h"
#include "client/shares/internal/table.h"
#include "client/shares/ratio.h"

namespace broodpact::shares {
namespace {

using facts::ClaimKind;
using facts::PriorClaim;
using facts::Terms;
using internal::Table;

// What a prior claim gets of `slings_left`.
std::uint32_t SlingsOfClaim(const PriorClaim& claim, std::uint32_t slings_left) {
  std::uint64_t slings = claim.amount;
  if (claim.kind == ClaimKind::kBasisPoints) {
    slings = std::uint64_t{slings_left} * claim.amount / facts::kBasisPointsMax;
  }
  slings = std::max<std::uint64_t>(slings, claim.slings_min);
  if (claim.slings_max != 0) slings = std::min<std::uint64_t>(slings, claim.slings_max);
  return static_cast<std::uint32_t>(std::min<std::uint64_t>(slings, slings_left));
}

void GiveClaim(const Terms& terms, std::uint32_t index, const Occasion& occasion, Table& table) {
  const PriorClaim& claim = terms.prior_claims[index];
  const bool idle = table.SlingsCounted() < claim.slings_counted_min ||
                    (claim.sacs_max != 0 && occasion.sac_number > claim.sacs_max);
  table.Write({.kind = idle ? StepKind::kClaimIdle : StepKind::kPriorClaim,
               .party = claim.party,
               .claim = index,
               .slings_before = table.SlingsLeft(),
               .slings = idle ? 0 : SlingsOfClaim(claim, table.SlingsLeft())});
}

}  // namespace

absl::StatusOr<Split> SplitOf(const Terms& terms, std::uint32_t slings_counted,
                              const Occasion& occasion) {
  if (slings_counted > facts::kSlingsMax) {
    return Fail(absl::StatusCode::kInvalidArgument, "SLINGS_OUT_OF_RANGE",
                fmt::format("{} slings are more than {}; check the count", slings_counted,
                            facts::kSlingsMax));
  }
  Table table(terms, slings_counted, occasion);
  if (slings_counted == 0) return std::move(table).Finish();

  if (terms.small_clutch && slings_counted < terms.small_clutch->below) {
    table.Write({.kind = StepKind::kSmallClutch,
                 .party = terms.small_clutch->party,
                 .slings_before = slings_counted,
                 .slings = slings_counted});
    return std::move(table).Finish();
  }
  for (std::uint32_t i = 0; i < terms.prior_claims.size(); ++i) {
    GiveClaim(terms, i, occasion, table);
  }
  if (table.SlingsLeft() == 0) return std::move(table).Finish();

  if (SharesOf(terms, occasion.sac_number).empty()) {
    table.Write({.kind = StepKind::kLeft,
                 .party = 0,
                 .slings_before = table.SlingsLeft(),
                 .slings = table.SlingsLeft()});
    return std::move(table).Finish();
  }
  internal::GiveShares(terms, occasion, table);
  internal::DivideSireSide(terms, occasion, table);
  return std::move(table).Finish();
}

}  // namespace broodpact::shares
