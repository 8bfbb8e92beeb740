#include "client/registry/share_due.h"

#include <algorithm>
#include <cstddef>

#include "client/shares/apportion.h"
#include "client/shares/ratio.h"

namespace broodpact::registry {
namespace {

using Seats = std::vector<PartyShare>;

// What more than `had` a party gets to reach `target`.
std::uint32_t Above(std::uint64_t target, std::uint32_t had) {
  return target > had ? static_cast<std::uint32_t>(target - had) : 0;
}

// Shares what was given up among those who did not, by their weights; without weights it goes to
// the first of them.
void AddGivenUp(const Seats& seats, std::uint64_t slings, std::span<const std::uint32_t> weights,
                std::vector<std::uint64_t>& targets) {
  std::vector<shares::Claimant> claimants;
  std::vector<std::size_t> places;
  for (std::size_t i = 0; i < targets.size(); ++i) {
    if (seats[i].waived || weights[i] == 0) continue;
    claimants.push_back({.keeper = seats[i].party, .weight = weights[i]});
    places.push_back(i);
  }
  const auto awards =
      shares::ShareByLargestRemainder(static_cast<std::uint32_t>(slings), claimants);
  if (awards.ok()) {
    for (std::size_t i = 0; i < places.size(); ++i) targets[places[i]] += (*awards)[i].slings;
    return;
  }
  const auto first = std::ranges::find(seats, false, &PartyShare::waived);
  if (first == seats.end()) return;
  targets[static_cast<std::size_t>(first - seats.begin())] += slings;
}

// One number a seat, as SharesDue has them.
std::vector<std::uint32_t> DueOfSeats(const Seats& seats, std::uint32_t undivided,
                                      std::span<const std::uint32_t> by_terms,
                                      std::span<const std::uint32_t> weights) {
  const std::size_t count = seats.size();
  std::vector<std::uint64_t> targets(by_terms.begin(), by_terms.end());
  std::uint64_t given_up = 0;
  for (std::size_t i = 0; i < count; ++i) {
    const PartyShare& share = seats[i];
    if (!share.waived) continue;
    given_up += Above(targets[i], share.credited);
    targets[i] = share.credited;
  }
  if (given_up > 0) AddGivenUp(seats, given_up, weights, targets);

  std::vector<std::uint32_t> due(count);
  std::uint64_t sum = 0;
  for (std::size_t i = 0; i < count; ++i) {
    due[i] = Above(targets[i], seats[i].credited);
    sum += due[i];
  }
  std::uint64_t beyond = sum - std::min<std::uint64_t>(sum, undivided);
  for (std::size_t i = count; i > 0 && beyond > 0; --i) {
    const auto taken = static_cast<std::uint32_t>(std::min<std::uint64_t>(beyond, due[i - 1]));
    due[i - 1] -= taken;
    beyond -= taken;
  }
  return due;
}

// The place of a keeper's seat as a party; a new seat at the end if it has none.
std::size_t SeatOf(const KeeperId& keeper, Seats& seats) {
  const auto found = std::ranges::find(seats, keeper, &PartyShare::party);
  const auto place = static_cast<std::size_t>(found - seats.begin());
  if (found == seats.end()) seats.push_back({.party = keeper, .receiver = keeper});
  return place;
}

}  // namespace

std::uint64_t SlingsToShare(const Clutch& clutch) {
  std::uint64_t slings = clutch.accounts.undivided;
  for (const PartyShare& share : clutch.parties) slings += share.credited;
  return slings;
}

std::vector<std::uint32_t> WeightsOf(const facts::Terms& terms, std::uint32_t sac_number) {
  std::vector<std::uint32_t> weights(terms.parties.size());
  for (const facts::RatioShare& share : shares::SharesOf(terms, sac_number)) {
    weights[share.party] = share.weight;
  }
  return weights;
}

std::vector<std::uint32_t> SharesDue(const Clutch& clutch, std::span<const std::uint32_t> by_terms,
                                     std::span<const std::uint32_t> weights) {
  return DueOfSeats(clutch.parties, clutch.accounts.undivided, by_terms, weights);
}

SeatsDue DueByTerms(const Clutch& clutch, const facts::Terms& terms,
                    const shares::Split& by_terms) {
  SeatsDue due{.seats = clutch.parties};
  const std::vector<std::uint32_t> party_weights = WeightsOf(terms, clutch.occasion.sac_number);
  std::vector<std::uint32_t> slings(due.seats.size());
  std::vector<std::uint32_t> weights(due.seats.size());
  for (std::size_t i = 0; i < by_terms.keepers.size(); ++i) {
    const std::size_t seat = SeatOf(by_terms.keepers[i], due.seats);
    slings.resize(due.seats.size());
    weights.resize(due.seats.size());
    slings[seat] = by_terms.slings[i];
    // The terms' parties are the first of the split's keepers.
    if (i < party_weights.size()) weights[seat] = party_weights[i];
  }
  due.slings = DueOfSeats(due.seats, clutch.accounts.undivided, slings, weights);
  return due;
}

SeatsDue DueWithoutTerms(const Clutch& clutch) {
  std::vector<std::uint32_t> all(clutch.parties.size());
  if (!all.empty()) all.front() = static_cast<std::uint32_t>(SlingsToShare(clutch));
  const std::vector<std::uint32_t> weights(clutch.parties.size(), 1);
  return {.seats = clutch.parties, .slings = SharesDue(clutch, all, weights)};
}

}  // namespace broodpact::registry
