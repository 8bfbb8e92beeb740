#pragma once

// What offspring of one animal would add to the gene diversity of a group.

#include <cstddef>
#include <map>
#include <span>
#include <string>
#include <vector>

#include "absl/status/statusor.h"

#include "client/registry/state.h"
#include "client/registry/subject.h"
#include "client/replica/internal/lineage.h"

namespace broodpact::replica {

// A gain is computed where a group has no more animals, dead ones counted in: it needs the kinship
// of all of them, and a search has to answer at once.
inline constexpr std::size_t kGainAnimalsMax = 500;

// Living animals of a group; none where it has more than kGainAnimalsMax.
absl::StatusOr<std::vector<registry::Animal>> LivingForGains(const registry::Source& source,
                                                             const GroupId& group);

// For each of `living`: the mean kinship of the living less that of its offspring with `mate` with
// them, -1 .. 1. All are in the lineage; `mate` may be of another group. None are living: empty.
std::map<AnimalId, double> GainsOf(const Lineage& lineage, std::span<const AnimalId> living,
                                   const AnimalId& mate);

// Why a search shows no gain.
std::string NoGain();

}  // namespace broodpact::replica
