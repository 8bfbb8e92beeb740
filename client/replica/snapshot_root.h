#pragma once

// What the devices that attest a snapshot sign: the root of the state that its manifest describes.

#include "client/base/hash.h"
#include "client/sync/snapshot.h"

namespace broodpact::replica {

// See store/state_root.h.
Hash RootOf(const sync::SnapshotManifest& manifest);

}  // namespace broodpact::replica
