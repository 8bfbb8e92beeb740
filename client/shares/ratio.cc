#include "client/shares/ratio.h"

#include <algorithm>
#include <numeric>
#include <string>

#include "client/base/bytes.h"
#include "client/base/hash.h"

namespace broodpact::shares {
namespace {

constexpr std::string_view kCarryLabel = "broodpact carry v1";

// The largest number that divides all weights.
std::uint64_t CommonDivisor(const std::vector<Claimant>& claimants) {
  std::uint64_t divisor = 0;
  for (const Claimant& claimant : claimants) divisor = std::gcd(divisor, claimant.weight);
  return divisor;
}

}  // namespace

const std::vector<facts::RatioShare>& SharesOf(const facts::Terms& terms,
                                               std::uint32_t sac_number) {
  const std::vector<facts::RatioShare>* shares = &terms.shares;
  for (const facts::LaterShares& later : terms.later_shares) {
    if (later.first_sac <= sac_number) shares = &later.shares;
  }
  return *shares;
}

std::vector<Claimant> ClaimantsOf(const facts::Terms& terms, std::uint32_t sac_number) {
  std::vector<Claimant> claimants;
  for (const facts::RatioShare& share : SharesOf(terms, sac_number)) {
    claimants.push_back({.keeper = terms.parties[share.party].keeper, .weight = share.weight});
  }
  return claimants;
}

std::optional<RunningMethod> RunningMethodOf(const facts::Terms& terms) {
  switch (terms.apportioning.carry) {
    case facts::Carry::kUnspecified:
    case facts::Carry::kOff:
      return std::nullopt;
    case facts::Carry::kQuota:
      return RunningMethod::kQuota;
    case facts::Carry::kChairman:
      return RunningMethod::kChairman;
  }
  return std::nullopt;
}

std::optional<CarryId> CarryIdOf(const facts::Terms& terms, std::uint32_t sac_number) {
  const std::optional<RunningMethod> method = RunningMethodOf(terms);
  std::vector<Claimant> claimants = ClaimantsOf(terms, sac_number);
  if (!method || claimants.size() < 2) return std::nullopt;
  const std::uint64_t divisor = CommonDivisor(claimants);
  std::ranges::sort(claimants, {}, &Claimant::keeper);
  std::string bytes;
  ByteWriter writer(bytes);
  writer.Text(kCarryLabel);
  writer.Unsigned(static_cast<std::uint64_t>(*method));
  for (const Claimant& claimant : claimants) {
    writer.Name(claimant.keeper);
    writer.Unsigned(claimant.weight / divisor);
  }
  const Hash hash = Sha256(bytes);
  CarryId id;
  std::copy_n(hash.begin(), id.bytes.size(), id.bytes.begin());
  return id;
}

std::uint32_t CarriedAfter(const facts::Terms& terms, std::uint32_t sac_number,
                           std::uint32_t carried, std::uint32_t slings) {
  constexpr std::uint64_t kCarriedMax = kRunningBounds.slings - facts::kSlingsMax;
  const std::uint64_t total = std::uint64_t{carried} + slings;
  if (total <= kCarriedMax) return static_cast<std::uint32_t>(total);
  const std::vector<Claimant> claimants = ClaimantsOf(terms, sac_number);
  return static_cast<std::uint32_t>(total % (WeightSum(claimants) / CommonDivisor(claimants)));
}

}  // namespace broodpact::shares
