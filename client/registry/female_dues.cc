#include "client/registry/female_dues.h"

#include <algorithm>

#include "client/registry/interval.h"
#include "client/registry/version.h"

namespace broodpact::registry {
namespace {

constexpr DaySpan kHereafter{.earliest = kDayMax, .latest = kDayMax};

bool BindsClutches(const Loan& loan) {
  return loan.state == LoanState::kInForce || loan.state == LoanState::kClosed;
}

// Whether the terms that she lays under cover no further sac of hers: they are about other females,
// or about as many sacs as she has laid. One that came to nothing does not count where the next one
// takes its place.
bool CoversNoMore(const Loan& loan, const Animal& female, const std::vector<Clutch>& clutches) {
  const auto version = VersionOf(loan, VersionOfDue(female, loan));
  if (!version) return false;
  const auto agreement = facts::ParseAgreement(version->agreement);
  if (!agreement.ok()) return false;
  const facts::Coverage& coverage = agreement->terms.coverage;
  const bool names_her = coverage.females.empty() ||
                         std::ranges::find(coverage.females, female.id) != coverage.females.end();
  if (!names_her) return true;
  if (coverage.sacs == 0) return false;
  const bool next_instead = agreement->terms.failure.infertile_sac == facts::FailureRule::kNextSac;
  const auto laid = std::ranges::count_if(clutches, [&](const Clutch& clutch) {
    return clutch.loan == loan.id && !(next_instead && clutch.loss.has_value());
  });
  return laid >= std::int64_t{coverage.sacs};
}

bool WasPairedUnder(const Animal& female, const LoanId& loan,
                    const std::vector<Pairing>& pairings) {
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

Hash VersionOfSac(const Animal& female, const Loan& loan, const DaySpan& laying) {
  for (const DueVersion& version : female.due_versions) {
    if (version.loan == loan.id && version.keeper == female.owner) {
      return VersionAt(loan, laying, version);
    }
  }
  return VersionAt(loan, laying);
}

Hash VersionOfDue(const Animal& female, const Loan& loan) {
  return VersionOfSac(female, loan, kHereafter);
}

std::vector<LoanId> DuesOf(const Animal& female, const Mating& mating) {
  std::vector<LoanId> dues;
  if (female.death.has_value()) return dues;
  for (const Loan& loan : mating.loans) {
    if (!BindsClutches(loan) || SeatOf(female, loan, female.owner).empty()) continue;
    if (!WasPairedUnder(female, loan.id, mating.pairings)) continue;
    if (CoversNoMore(loan, female, mating.clutches)) continue;
    dues.push_back(loan.id);
  }
  std::ranges::sort(dues);
  dues.erase(std::unique(dues.begin(), dues.end()), dues.end());
  return dues;
}

}  // namespace broodpact::registry
