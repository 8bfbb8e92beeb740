#include "client/registry/share_due.h"

#include <algorithm>
#include <cstddef>

#include "client/shares/apportion.h"

namespace broodpact::registry {
namespace {

// What more than `had` a party gets to reach `target`.
std::uint32_t Above(std::uint64_t target, std::uint32_t had) {
  return target > had ? static_cast<std::uint32_t>(target - had) : 0;
}

// Shares what was given up among those who did not, by their weights; without weights it goes to
// the first of them.
void AddGivenUp(const Clutch& clutch, std::uint64_t slings, std::span<const std::uint32_t> weights,
                std::vector<std::uint64_t>& targets) {
  std::vector<shares::Claimant> claimants;
  std::vector<std::size_t> places;
  for (std::size_t i = 0; i < targets.size(); ++i) {
    if (clutch.parties[i].waived || weights[i] == 0) continue;
    claimants.push_back({.keeper = clutch.parties[i].party, .weight = weights[i]});
    places.push_back(i);
  }
  const auto awards =
      shares::ShareByLargestRemainder(static_cast<std::uint32_t>(slings), claimants);
  if (awards.ok()) {
    for (std::size_t i = 0; i < places.size(); ++i) targets[places[i]] += (*awards)[i].slings;
    return;
  }
  const auto first = std::ranges::find(clutch.parties, false, &PartyShare::waived);
  if (first == clutch.parties.end()) return;
  targets[static_cast<std::size_t>(first - clutch.parties.begin())] += slings;
}

}  // namespace

std::uint64_t SlingsToShare(const Clutch& clutch) {
  std::uint64_t slings = clutch.accounts.undivided;
  for (const PartyShare& share : clutch.parties) slings += share.credited;
  return slings;
}

std::vector<std::uint32_t> WeightsOf(const facts::Terms* terms) {
  if (terms == nullptr) return {1};
  std::vector<std::uint32_t> weights(terms->parties.size());
  for (const facts::RatioShare& share : terms->shares) weights[share.party] = share.weight;
  return weights;
}

std::vector<std::uint32_t> SharesDue(const Clutch& clutch, std::span<const std::uint32_t> by_terms,
                                     std::span<const std::uint32_t> weights) {
  const std::size_t count = clutch.parties.size();
  std::vector<std::uint64_t> targets(by_terms.begin(), by_terms.end());
  std::uint64_t given_up = 0;
  for (std::size_t i = 0; i < count; ++i) {
    const PartyShare& share = clutch.parties[i];
    if (!share.waived) continue;
    given_up += Above(targets[i], share.credited);
    targets[i] = share.credited;
  }
  if (given_up > 0) AddGivenUp(clutch, given_up, weights, targets);

  std::vector<std::uint32_t> due(count);
  std::uint64_t sum = 0;
  for (std::size_t i = 0; i < count; ++i) {
    due[i] = Above(targets[i], clutch.parties[i].credited);
    sum += due[i];
  }
  std::uint64_t beyond = sum - std::min<std::uint64_t>(sum, clutch.accounts.undivided);
  for (std::size_t i = count; i > 0 && beyond > 0; --i) {
    const auto taken = static_cast<std::uint32_t>(std::min<std::uint64_t>(beyond, due[i - 1]));
    due[i - 1] -= taken;
    beyond -= taken;
  }
  return due;
}

}  // namespace broodpact::registry
