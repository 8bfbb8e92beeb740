#pragma once

// Wants, read and shown: what lists of wants and searches for homes share.

#include <string>
#include <vector>

#include "absl/status/statusor.h"

#include "broodpact/v1/registry.pb.h"
#include "client/base/day.h"
#include "client/registry/layer.h"
#include "client/registry/state.h"
#include "client/registry/subject.h"
#include "client/replica/internal/ref_book.h"

namespace broodpact::replica {

// Wants that one question looks at.
inline constexpr std::size_t kWantsMax = 10'000;

// Whether it is not ended, and its last day has not passed.
bool IsOpen(const registry::Want& want, Day day);

// The open ones behind the beginning of an index entry, in order of id.
absl::StatusOr<std::vector<registry::Want>> WantsBehind(const registry::Source& source,
                                                        const std::string& prefix, Day day);

v1::Want WantMessage(const registry::Want& want, RefBook& refs, const registry::Layer* provisional);

}  // namespace broodpact::replica
