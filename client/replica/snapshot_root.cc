#include "client/replica/snapshot_root.h"

#include "client/store/state_root.h"

namespace broodpact::replica {

Hash RootOf(const sync::SnapshotManifest& manifest) {
  return store::RootOf({.cooperative = manifest.cooperative,
                        .point = manifest.point,
                        .state_digest = manifest.state_digest,
                        .heads_digest = manifest.heads_digest,
                        .fold_version = manifest.fold_version});
}

}  // namespace broodpact::replica
