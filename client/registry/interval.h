#pragma once

// A female's time between two moults: it owns pairings, sacs and possible sires, since a moult
// sheds the stored sperm. Computed from the dates, so that a moult that is entered late re-cuts it.

#include <vector>

#include "client/registry/state.h"
#include "client/registry/subject.h"
#include "client/shares/occasion.h"

namespace broodpact::registry {

// The males that may have sired a clutch laid by `female` on `laying`: those paired with her
// before (or on) the last possible laying day and not before the last moult that surely preceded
// it, refusals and claims left out. Each once, in order of id. `pairings` are the female's.
std::vector<AnimalId> PossibleSires(const Animal& female, const DaySpan& laying,
                                    const std::vector<Pairing>& pairings);

// The owners of those males, with how often and how late theirs were paired with her, by rising id.
std::vector<shares::SireOwner> SireOwnersOf(const Animal& female, const DaySpan& laying,
                                            const std::vector<Pairing>& pairings);

// Whether any of a female's pairings may have led to a clutch, asked for many clutches: as
// PossibleSires of those pairings, without going through all moults and pairings each time.
class FertileDays {
 public:
  FertileDays(const Animal& female, const std::vector<Pairing>& pairings);

  bool Cover(const DaySpan& laying) const;

 private:
  // A day, and the latest of some others that belong to this or an earlier day. By rising day.
  struct Step {
    Day day{};
    Day latest{};
  };
  static void Order(std::vector<Step>& steps);

  std::vector<Step> moults_{};    // by their last day: the latest first day
  std::vector<Step> pairings_{};  // by their first day: the latest last day
};

}  // namespace broodpact::registry
