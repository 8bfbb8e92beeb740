#pragma once

// Names that a keeper gives: two things of one name would have to be told apart by their ids ever
// after.

#include <string>

#include "absl/status/status.h"

#include "client/replica/replica.h"

namespace broodpact::replica {

// Whether this keeper has given the name to no loan that is open or in force, and to no clutch that
// came to something. No name is always free.
// Errors: FAILED_PRECONDITION with reason NAME_TAKEN, naming the one that has it.
absl::Status CheckLoanNameFree(const Replica& replica, const std::string& name);
absl::Status CheckClutchNameFree(const Replica& replica, const std::string& name);

}  // namespace broodpact::replica
