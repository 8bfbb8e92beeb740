#pragma once

// What a server says of the device that asks, whatever it asked for.

#include "absl/status/status.h"

namespace broodpact::replica {

// Whether the device has ceased there: it was cut off, another key took its place, or its keeper
// left. That is no answer to what was asked.
bool IsRefusal(const absl::Status& status);

}  // namespace broodpact::replica
