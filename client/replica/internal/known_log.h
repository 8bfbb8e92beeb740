#pragma once

// What a replica remembers of its server between two sessions: the heads that it has signed, the
// losses that it has told, and which other servers there were. Small values of the store.

#include <optional>
#include <vector>

#include "absl/status/statusor.h"

#include "client/store/store.h"
#include "client/sync/epoch.h"
#include "client/sync/head.h"
#include "client/sync/recovery.h"

namespace broodpact::replica {

// What this replica knows of the server's log from before. The heads may be void by the epochs:
// they still show what the server has lost.
struct KnownLog {
  std::optional<sync::Head> head{};      // of this log
  std::optional<sync::Head> promised{};  // of more arrivals than it has
  sync::Epochs epochs{};
  std::vector<PublicKey> successors{};  // of servers that this replica was led to
  std::vector<PublicKey> forsaken{};    // of servers that it has left
  bool damaged = false;  // this log is not the one that the server signed when it was fetched

  // Whether a head by that key is of the server that is known, or of one that took its place.
  bool IsServer(const PublicKey& key) const;

  // Whether what is known is of a server whose place another one took, which this replica goes to.
  bool HasSuccessor() const;

  // The head, if it still holds the server to something.
  std::optional<sync::Head> Standing(const std::optional<sync::Head>& one) const {
    return one && !sync::IsVoid(epochs, *one) ? one : std::nullopt;
  }
};

// Errors: those of the store.
absl::StatusOr<KnownLog> ReadKnownLog(const store::Store& database);
// Keeps the key of a server that takes the place of the one that is known, and that this one is no
// server any more.
absl::Status KeepSuccessor(store::Store& database, const PublicKey& key);
// Keeps epochs beside those that are kept already.
absl::Status KeepEpochs(store::Store& database, const sync::Epochs& told);

// Keeps a head of a log that the server has lost, as somebody else heard it, to be shown to it,
// unless the server has told that it lost so much. What commits have seen of it is else not known
// to have been there, and they find no place.
absl::Status KeepLostHead(store::Store& database, const sync::Head& head);
// Shows the server the head that is kept, if there is one, and keeps the epochs that it tells then.
// One that it does not take is kept no longer.
// Errors: UNAVAILABLE, as the server's; those of the store.
absl::Status ShowLostHead(store::Store& database, sync::Recovery& server);

}  // namespace broodpact::replica
