// What the clauses of terms have to be within.

#include <algorithm>
#include <set>

#include "client/base/status.h"
#include "client/base/text.h"
#include "client/facts/internal/terms.h"

namespace broodpact::facts {

bool TakesAll(const PriorClaim& claim) {
  return claim.kind == ClaimKind::kBasisPoints && claim.amount == kBasisPointsMax &&
         claim.slings_counted_min == 0 && claim.slings_max == 0 && claim.sacs_max == 0;
}

namespace internal {
namespace {

absl::Status CheckIndexes(const Terms& terms) {
  const auto known = [&terms](const auto& clause) { return clause.party < terms.parties.size(); };
  const auto all_known = [&](const auto& clauses) { return std::ranges::all_of(clauses, known); };
  if ((!terms.small_clutch || known(*terms.small_clutch)) && all_known(terms.prior_claims) &&
      all_known(terms.shares) &&
      std::ranges::all_of(terms.later_shares,
                          [&](const LaterShares& later) { return all_known(later.shares); })) {
    return absl::OkStatus();
  }
  return Fault("UNKNOWN_PARTY", "a clause names a party that is not in the list");
}

bool IsWithinBounds(const PriorClaim& claim) {
  const std::uint32_t amount_max = claim.kind == ClaimKind::kSlings ? kSlingsMax : kBasisPointsMax;
  return claim.amount >= 1 && claim.amount <= amount_max &&
         claim.slings_counted_min <= kSlingsMax && claim.slings_max <= kSlingsMax &&
         claim.slings_min <= kSlingsMax && claim.sacs_max <= kSacsMax;
}

absl::Status CheckClaims(const Terms& terms) {
  if (terms.prior_claims.size() > kClaimsMax) {
    return Fault("CLAIM_OUT_OF_RANGE", fmt::format("it has {} prior claims; at most {} are allowed",
                                                   terms.prior_claims.size(), kClaimsMax));
  }
  if (!std::ranges::all_of(terms.prior_claims, IsWithinBounds)) {
    return Fault("CLAIM_OUT_OF_RANGE",
                 fmt::format("a prior claim must be for 1 to {} slings, or for 0.01 to 100 per "
                             "cent, with limits of at most {} slings and {} sacs",
                             kSlingsMax, kSlingsMax, kSacsMax));
  }
  if (terms.small_clutch && terms.small_clutch->below > kSlingsMax) {
    return Fault("CLAIM_OUT_OF_RANGE",
                 fmt::format("a small clutch must have fewer than {} slings", kSlingsMax));
  }
  return absl::OkStatus();
}

absl::Status CheckShareList(const std::vector<RatioShare>& shares) {
  std::set<std::uint32_t> sharing;
  for (const RatioShare& share : shares) {
    if (!sharing.insert(share.party).second) {
      return Fault("SHARE_TWICE", "a party has two shares; add them up to one");
    }
  }
  for (const RatioShare& share : shares) {
    if (share.weight < 1 || share.weight > kWeightMax) {
      return Fault("WEIGHT_OUT_OF_RANGE", fmt::format("a share has {} parts; it must be 1 to {}",
                                                      share.weight, kWeightMax));
    }
  }
  return absl::OkStatus();
}

absl::Status CheckShares(const Terms& terms) {
  if (terms.shares.empty() && std::ranges::none_of(terms.prior_claims, TakesAll)) {
    return Fault("NO_SHARES", "it does not say who gets the rest of the slings; add shares");
  }
  BP_RETURN_IF_ERROR(CheckShareList(terms.shares));
  for (const LaterShares& later : terms.later_shares) {
    BP_RETURN_IF_ERROR(CheckShareList(later.shares));
  }
  return absl::OkStatus();
}

// What carries over is counted over as many slings as the weights have the smallest in them.
absl::Status CheckCarryRatio(const std::vector<RatioShare>& shares) {
  if (shares.empty()) return absl::OkStatus();
  std::uint64_t sum = 0;
  for (const RatioShare& share : shares) sum += share.weight;
  const std::uint64_t least = std::ranges::min_element(shares, {}, &RatioShare::weight)->weight;
  if (sum <= least * kCarryRatioMax) return absl::OkStatus();
  return Fault("CARRY_TOO_FINE",
               fmt::format("remainders cannot carry over where the smallest share is {} parts of "
                           "{}; it must be one part of {} at least: give that party a prior claim "
                           "instead",
                           least, sum, kCarryRatioMax));
}

absl::Status CheckCarry(const Terms& terms) {
  const Carry carry = terms.apportioning.carry;
  if (carry != Carry::kQuota && carry != Carry::kChairman) return absl::OkStatus();
  BP_RETURN_IF_ERROR(CheckCarryRatio(terms.shares));
  for (const LaterShares& later : terms.later_shares) {
    BP_RETURN_IF_ERROR(CheckCarryRatio(later.shares));
  }
  return absl::OkStatus();
}

absl::Status ClauseFault(std::string_view wrong) {
  return Fault("CLAUSE_OUT_OF_RANGE", wrong);
}

absl::Status CheckLaterShares(const Terms& terms) {
  if (terms.later_shares.size() > kLaterSharesMax) {
    return ClauseFault(fmt::format("it has {} rules for later sacs; at most {} are allowed",
                                   terms.later_shares.size(), kLaterSharesMax));
  }
  std::uint32_t sac = 1;
  for (const LaterShares& later : terms.later_shares) {
    if (later.first_sac <= sac || later.first_sac > kSacsMax || later.shares.empty()) {
      return ClauseFault(fmt::format(
          "shares of later sacs must be for a sac from 2 to {} on, each list for a later one than "
          "the list before, with a share at least",
          kSacsMax));
    }
    sac = later.first_sac;
  }
  return absl::OkStatus();
}

absl::Status CheckNumbers(const Terms& terms) {
  if (terms.coverage.females.size() > kFemalesMax) {
    return ClauseFault(fmt::format("it names {} females; at most {} are allowed",
                                   terms.coverage.females.size(), kFemalesMax));
  }
  if (terms.giving_back.pairings_max > kClauseNumberMax ||
      terms.dead_arrivals.report_hours > kClauseNumberMax ||
      terms.dead_arrivals.replace_days > kClauseNumberMax ||
      terms.failure.no_sac_days > kNoSacDaysMax) {
    return ClauseFault(
        fmt::format("pairings, hours and days must be at most {}, and days until no "
                    "sac is expected at most {}",
                    kClauseNumberMax, kNoSacDaysMax));
  }
  const RiskClause& risk = terms.risk;
  const bool wants_slings = risk.yield == RiskYield::kSlings;
  if (wants_slings != (risk.yield_slings != 0) || risk.yield_slings > kSlingsMax) {
    return ClauseFault(fmt::format(
        "for a death the borrower owes 1 to {} slings, or no number of slings", kSlingsMax));
  }
  return absl::OkStatus();
}

}  // namespace

absl::Status CheckDay(std::string_view what, Day day) {
  if (kDayMin <= day && day <= kDayMax) return absl::OkStatus();
  return Fault("DATE_OUT_OF_RANGE", fmt::format("the {} is not between 1900 and 2199", what));
}

absl::Status CheckClauses(const Terms& terms) {
  BP_RETURN_IF_ERROR(CheckIndexes(terms));
  BP_RETURN_IF_ERROR(CheckClaims(terms));
  BP_RETURN_IF_ERROR(CheckShares(terms));
  BP_RETURN_IF_ERROR(CheckCarry(terms));
  BP_RETURN_IF_ERROR(CheckLaterShares(terms));
  BP_RETURN_IF_ERROR(CheckNumbers(terms));
  if (terms.coverage.until_day) {
    BP_RETURN_IF_ERROR(CheckDay("day until which sacs are covered", *terms.coverage.until_day));
  }
  return Annotate(CheckText("the text of the remarks", terms.remarks, kRemarksBytesMax),
                  "agreement");
}

}  // namespace internal
}  // namespace broodpact::facts
