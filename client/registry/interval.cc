#include "client/registry/interval.h"

#include <algorithm>
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

}  // namespace

std::vector<AnimalId> PossibleSires(const Animal& female, const DaySpan& laying,
                                    const std::vector<Pairing>& pairings) {
  const std::optional<Day> moult = LastMoultBefore(female, laying);
  std::vector<AnimalId> sires;
  for (const Pairing& pairing : pairings) {
    if (pairing.outcome == facts::PairingOutcome::kRefused) continue;
    if (pairing.day.earliest > laying.latest) continue;
    // A pairing on the day of the moult may have come after it: he stays a possible sire.
    if (moult.has_value() && pairing.day.latest < *moult) continue;
    sires.push_back(pairing.male);
  }
  std::sort(sires.begin(), sires.end());
  sires.erase(std::unique(sires.begin(), sires.end()), sires.end());
  return sires;
}

}  // namespace broodpact::registry
