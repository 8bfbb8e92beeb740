#pragma once

// The invariants of the design, by name, as they can be seen once faults have stopped and all have
// synced. Each returns what does not hold, one sentence each; nothing where it holds.

#include <string>
#include <string_view>
#include <vector>

#include "tests/simulation/world.h"

namespace broodpact::simulation {

using Violations = std::vector<std::string>;

Violations Convergence(World& world);        // equal heads, byte-equal state, equal to a fold
Violations Finality(World& world);           // no verdict that was shown has changed
Violations DaysKept(World& world);           // what was in time before a loss is so after it
Violations NothingLost(World& world);        // whatever was acknowledged is there
Violations Conservation(World& world);       // accounts of every clutch sum up
Violations OneOwnerOneHolder(World& world);  // no token is spent twice
Violations NoEffectWithoutAuthority(World& world);
Violations CountsOnce(World& world);       // whichever ways it comes, a commit has one effect
Violations AgreementBinds(World& world);   // in force: signed by all its parties
Violations Determinism(World& world);      // recomputed: the same
Violations HonestServer(World& world);     // nobody doubts it, and its proofs hold
Violations Indexes(World& world);          // every index answers as a scan would
Violations ForkNeverWedges(World& world);  // everybody writes on, and it arrives
Violations Liveness(World& world);         // nothing is undelivered, all are at one head

struct Invariant {
  std::string_view name;
  Violations (*check)(World&);
};
const std::vector<Invariant>& AllInvariants();

}  // namespace broodpact::simulation
