// What the males' owners got of the rest, divided between the owners of the possible sires.

#include <algorithm>
#include <map>

#include "client/shares/internal/table.h"
#include "client/shares/ratio.h"

namespace broodpact::shares::internal {
namespace {

using facts::SireRule;

// The males' owners who share the rest of this sac, as indexes into the parties.
std::vector<std::uint32_t> MaleOwners(const facts::Terms& terms, std::uint32_t sac_number) {
  std::vector<std::uint32_t> owners;
  for (const facts::RatioShare& share : SharesOf(terms, sac_number)) {
    if (terms.parties[share.party].role == facts::PartyRole::kMaleOwner) {
      owners.push_back(share.party);
    }
  }
  return owners;
}

// Who divide, with their weights, by rising id; nobody where things stay as the shares say.
using Weights = std::map<KeeperId, std::uint64_t>;

Weights EqualWeights(const facts::Terms& terms, const std::vector<std::uint32_t>& male_owners,
                     const Occasion& occasion) {
  Weights weights;
  for (const SireOwner& owner : occasion.sire_owners) weights[owner.keeper] = 1;
  for (const std::uint32_t party : male_owners) weights[terms.parties[party].keeper] = 1;
  return weights;
}

Weights WeightsOf(const facts::Terms& terms, const std::vector<std::uint32_t>& male_owners,
                  const Occasion& occasion) {
  Weights weights;
  switch (terms.apportioning.sires) {
    case SireRule::kAsWritten:
      return {};
    case SireRule::kUnspecified:
      if (male_owners.size() > 1) return {};
      return EqualWeights(terms, male_owners, occasion);
    case SireRule::kEqual:
      return EqualWeights(terms, male_owners, occasion);
    case SireRule::kLastPaired:
      for (const SireOwner& owner : occasion.sire_owners) {
        if (owner.paired_last) weights[owner.keeper] = 1;
      }
      return weights;
    case SireRule::kPairings:
      for (const SireOwner& owner : occasion.sire_owners) {
        if (owner.pairings > 0) weights[owner.keeper] = owner.pairings;
      }
      return weights;
  }
  return {};
}

}  // namespace

void DivideSireSide(const facts::Terms& terms, const Occasion& occasion, Table& table) {
  const std::vector<std::uint32_t> male_owners = MaleOwners(terms, occasion.sac_number);
  if (male_owners.empty() || occasion.sire_owners.empty()) return;
  const Weights weights = WeightsOf(terms, male_owners, occasion);
  if (weights.empty() || weights.size() > facts::kSireOwnersMax) return;
  const bool stays = male_owners.size() == 1 && weights.size() == 1 &&
                     weights.contains(terms.parties[male_owners.front()].keeper);
  if (stays) return;

  for (const std::uint32_t party : male_owners) {
    const std::uint32_t slings = table.SlingsByRatio(party);
    if (slings == 0) continue;
    table.Write({.kind = StepKind::kSireSide,
                 .party = party,
                 .slings_before = table.SlingsLeft(),
                 .slings = slings});
  }
  if (table.SlingsLeft() == 0) return;
  RatioLines lines{.quota_kind = StepKind::kSirePart};
  for (const auto& [keeper, weight] : weights) {
    lines.parties.push_back(table.IndexOf(keeper));
    lines.claimants.push_back({.keeper = keeper, .weight = weight});
  }
  GiveByRemainder(lines, table);
}

}  // namespace broodpact::shares::internal
