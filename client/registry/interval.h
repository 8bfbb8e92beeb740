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
// it, refusals left out. Each once, in order of id. `pairings` are the female's.
std::vector<AnimalId> PossibleSires(const Animal& female, const DaySpan& laying,
                                    const std::vector<Pairing>& pairings);

// The owners of those males, with how often and how late theirs were paired with her, by rising id.
std::vector<shares::SireOwner> SireOwnersOf(const Animal& female, const DaySpan& laying,
                                            const std::vector<Pairing>& pairings);

}  // namespace broodpact::registry
