#pragma once

// What the index says of a stored subject, from its bytes alone.
//
// Pure.

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "client/registry/encode.h"

namespace broodpact::store {

// The entries that a stored subject answers to; nothing if it is none of that kind.
std::optional<std::vector<std::string>> EntriesOf(registry::Kind kind, std::string_view value);

}  // namespace broodpact::store
