#include "client/registry/female_dues.h"

#include <algorithm>

#include "client/registry/interval.h"
#include "client/registry/version.h"

namespace broodpact::registry {
namespace {

bool BindsClutches(const Loan& loan) {
  return loan.state == LoanState::kInForce || loan.state == LoanState::kClosed;
}

bool IsUsedUp(const Loan& loan, const std::vector<Clutch>& clutches) {
  const auto agreement = facts::ParseAgreement(loan.agreement);
  if (!agreement.ok() || agreement->terms.sacs_covered == 0) return false;
  const auto laid = std::ranges::count(clutches, loan.id, &Clutch::loan);
  return laid >= std::int64_t{agreement->terms.sacs_covered};
}

bool WasPairedUnder(const Animal& female, const LoanId& loan,
                    const std::vector<Pairing>& pairings) {
  constexpr DaySpan kHereafter{.earliest = kDayMax, .latest = kDayMax};
  return std::ranges::any_of(pairings, [&](const Pairing& pairing) {
    return pairing.loan == loan && !PossibleSires(female, kHereafter, {pairing}).empty();
  });
}

}  // namespace

KeeperId SeatOf(const Animal& female, const Loan& loan, const KeeperId& keeper) {
  for (const DueRecord& due : female.dues) {
    if (due.loan == loan.id && due.keeper == keeper) return due.party;
  }
  return IsPartyOf(loan, keeper) ? keeper : KeeperId{};
}

std::vector<LoanId> DuesOf(const Animal& female, const Mating& mating) {
  std::vector<LoanId> dues;
  if (female.death.has_value()) return dues;
  for (const Loan& loan : mating.loans) {
    if (!BindsClutches(loan) || SeatOf(female, loan, female.owner).empty()) continue;
    if (!WasPairedUnder(female, loan.id, mating.pairings)) continue;
    if (IsUsedUp(loan, mating.clutches)) continue;
    dues.push_back(loan.id);
  }
  std::ranges::sort(dues);
  dues.erase(std::unique(dues.begin(), dues.end()), dues.end());
  return dues;
}

}  // namespace broodpact::registry
