#include "client/registry/interval.h"

#include <algorithm>
#include <cstddef>
#include <iterator>
#include <map>
#include <optional>

namespace broodpact::registry {
namespace {

// Refused ones did not mate; and what only one states who has no part in her gives him none.
bool MayHaveMated(const Pairing& pairing) {
  return pairing.outcome != facts::PairingOutcome::kRefused && !pairing.claimed;
}

// The first day of the last moult that was surely over when she laid; nothing if there is none.
std::optional<Day> LastMoultBefore(const Animal& female, const DaySpan& laying) {
  std::optional<Day> last;
  for (const MoultRecord& moult : female.moults) {
    if (moult.day.latest >= laying.earliest) continue;
    if (!last.has_value() || moult.day.earliest > *last) last = moult.day.earliest;
  }
  return last;
}

// The pairings that may have led to a clutch laid by `female` on `laying`.
std::vector<const Pairing*> PairingsThatCount(const Animal& female, const DaySpan& laying,
                                              const std::vector<Pairing>& pairings) {
  const std::optional<Day> moult = LastMoultBefore(female, laying);
  std::vector<const Pairing*> counting;
  for (const Pairing& pairing : pairings) {
    if (!MayHaveMated(pairing)) continue;
    if (pairing.day.earliest > laying.latest) continue;
    // A pairing on the day of the moult may have come after it: he stays a possible sire.
    if (moult.has_value() && pairing.day.latest < *moult) continue;
    counting.push_back(&pairing);
  }
  return counting;
}

}  // namespace

std::vector<AnimalId> PossibleSires(const Animal& female, const DaySpan& laying,
                                    const std::vector<Pairing>& pairings) {
  std::vector<AnimalId> sires;
  for (const Pairing* pairing : PairingsThatCount(female, laying, pairings)) {
    sires.push_back(pairing->male);
  }
  std::sort(sires.begin(), sires.end());
  sires.erase(std::unique(sires.begin(), sires.end()), sires.end());
  return sires;
}

std::vector<shares::SireOwner> SireOwnersOf(const Animal& female, const DaySpan& laying,
                                            const std::vector<Pairing>& pairings) {
  const std::vector<const Pairing*> counting = PairingsThatCount(female, laying, pairings);
  std::optional<Day> last;
  for (const Pairing* pairing : counting) {
    if (!last || pairing->day.latest > *last) last = pairing->day.latest;
  }
  std::map<KeeperId, shares::SireOwner> owners;
  for (const Pairing* pairing : counting) {
    shares::SireOwner& owner = owners[pairing->male_owner];
    owner.keeper = pairing->male_owner;
    ++owner.pairings;
    owner.paired_last = owner.paired_last || pairing->day.latest == *last;
  }
  std::vector<shares::SireOwner> list;
  list.reserve(owners.size());
  for (const auto& [keeper, owner] : owners) list.push_back(owner);
  return list;
}

FertileDays::FertileDays(const Animal& female, const std::vector<Pairing>& pairings) {
  for (const MoultRecord& moult : female.moults) {
    moults_.push_back({.day = moult.day.latest, .latest = moult.day.earliest});
  }
  for (const Pairing& pairing : pairings) {
    if (!MayHaveMated(pairing)) continue;
    pairings_.push_back({.day = pairing.day.earliest, .latest = pairing.day.latest});
  }
  Order(moults_);
  Order(pairings_);
}

void FertileDays::Order(std::vector<Step>& steps) {
  std::ranges::sort(steps, {}, &Step::day);
  for (std::size_t i = 1; i < steps.size(); ++i) {
    steps[i].latest = std::max(steps[i].latest, steps[i - 1].latest);
  }
}

bool FertileDays::Cover(const DaySpan& laying) const {
  const auto paired = std::ranges::upper_bound(pairings_, laying.latest, {}, &Step::day);
  if (paired == pairings_.begin()) return false;
  const auto moulted = std::ranges::lower_bound(moults_, laying.earliest, {}, &Step::day);
  return moulted == moults_.begin() || std::prev(paired)->latest >= std::prev(moulted)->latest;
}

}  // namespace broodpact::registry
