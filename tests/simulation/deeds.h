#pragma once

// What keepers do at home, through the same functions that the commands use: mostly what the state
// of their replica suggests, now and then what it forbids.

#include <string>
#include <string_view>

#include "absl/status/status.h"

#include "client/replica/replica.h"
#include "tests/simulation/dice.h"

namespace broodpact::simulation {

struct Deed {
  std::string_view what{};
  absl::Status status;
};

// One deed of the replica's keeper. Refusals come back as the errors that they are to a keeper.
Deed DoSomething(replica::Replica& replica, Dice& dice);

// Enters a group and two animals of it, so that there is something to lend and to pair.
absl::Status FurnishWith(replica::Replica& replica, const std::string& prefix);

}  // namespace broodpact::simulation
