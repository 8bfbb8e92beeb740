#pragma once

// Index entries of a source with changes over it: what State and Layer have in common.

#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "client/registry/state.h"

namespace broodpact::registry {

// Entries that the source does not have (true) or no longer has (false).
using EntryChanges = std::map<std::string, bool, std::less<>>;

// The entries that begin with `prefix`, in order, at most `count_max`, as if `changes` were stored.
// Errors: those of the source.
absl::StatusOr<std::vector<std::string>> EntriesOver(const Source& source,
                                                     const EntryChanges& changes,
                                                     std::string_view prefix,
                                                     std::size_t count_max);

}  // namespace broodpact::registry
