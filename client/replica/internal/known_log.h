#pragma once

// What a replica remembers of its server between two sessions: the heads that it has signed, the
// losses that it has told, and which other servers there were. Small values of the store.

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/statusor.h"

#include "client/store/store.h"
#include "client/sync/epoch.h"
#include "client/sync/head.h"
#include "client/sync/recovery.h"
#include "client/sync/server_code.h"

namespace broodpact::replica {

// A head of arrivals that have not come yet, and a place that its log has in common with the one
// here: where this one stood when the server had taken it for its own and signed the head.
struct Promise {
  sync::Head head{};
  facts::LogPoint common{};  // the empty log, where it is not known
};

// As a small value of the store: the head's bytes, arrivals unsigned, log hash (32 bytes), in the
// encoding of base/bytes.h. Reads a head alone too, as it was kept before places were.
std::string EncodePromise(const Promise& promise);
std::optional<Promise> DecodePromise(std::string_view bytes);

// What this replica knows of the server's log from before. The heads may be void by the epochs:
// they still show what the server has lost.
struct KnownLog {
  std::optional<sync::Head> head{};  // of this log
  std::optional<Promise> promise{};  // of more arrivals than it had
  sync::Epochs epochs{};
  std::vector<PublicKey> successors{};  // of servers that this replica was led to
  std::vector<PublicKey> forsaken{};    // of servers that it has left
  // By which it was led to servers, the latest last; at most sync::kServerCodesMax.
  std::vector<std::string> server_codes{};
  bool damaged = false;  // this log is not the one that the server signed when it was fetched

  // The head of the promise.
  std::optional<sync::Head> promised() const;
  // A head of the server that is known: that of this log, or the promised one.
  std::optional<sync::Head> any_head() const;

  // Whether a head by that key is of the server that is known, or of one that took its place.
  bool IsServer(const PublicKey& key) const;

  // Whether a head or an epoch by that key may be of this cooperative's log: of a server as above,
  // or of one that was left.
  bool WasServer(const PublicKey& key) const;

  // What a server is told when the two logs are compared.
  sync::Remembered remembered() const { return {.epochs = epochs, .server_codes = server_codes}; }

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
// Keeps the code by which a registrar leads to a server: his word for it, to be shown where nobody
// else knows of it.
absl::Status KeepServerCode(store::Store& database, const sync::ServerCode& code);
// Keeps epochs beside those that are kept already.
absl::Status KeepEpochs(store::Store& database, const sync::Epochs& told);

}  // namespace broodpact::replica
