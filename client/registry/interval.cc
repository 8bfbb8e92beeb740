#include "client/registry/interval.h"

#include <algorithm>
#include <map>
#include <optional>

namespace broodpact::registry {
namespace {

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
    if (pairing.outcome == facts::PairingOutcome::kRefused) continue;
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

}  // namespace broodpact::registry
