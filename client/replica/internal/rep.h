#pragma once

// What a Replica is made of, for the files that implement it.

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "client/replica/replica.h"

namespace broodpact::replica {

// Names of small values in the store.
inline constexpr char kMetaInstall[] = "install";  // the number that Home::ReadInstall has too
inline constexpr char kMetaHead[] = "head";        // the server's last head (internal/head.h)
inline constexpr char kMetaJoining[] = "joining";  // the commit that a Join was tried with

struct Replica::Rep {
  Rep(Home home_in, const Surroundings& surroundings)
      : home(std::move(home_in)), clock(surroundings.clock), randomness(surroundings.randomness) {}

  Home home;
  const device::Clock& clock;
  device::Randomness& randomness;
  Identity identity;
  std::optional<device::SecretKey> key;  // nothing where it is opened for reading
  std::unique_ptr<store::Store> store;
  std::unique_ptr<Ledger> ledger;
  std::optional<registry::Layer> overlay;
  std::vector<Undelivered> undelivered;
  facts::ChainHead head;  // of the own chain, undelivered commits included

  facts::ChainId chain() const { return {DeviceOf(identity.device_key), identity.incarnation}; }

  // Whether this replica may write.
  // Errors: FAILED_PRECONDITION with reason READ_ONLY.
  absl::Status CheckWritable() const;

  // A commit that follows on the own chain, as read back from its bytes.
  struct Draft {
    std::string bytes;
    facts::Commit commit;
  };
  absl::StatusOr<Draft> DraftOf(const Hash& cooperative,
                                const std::vector<facts::Statement>& statements) const;

  // What the fold makes of a commit on top of what is there, and the changes that it would bring.
  struct Trial {
    registry::Verdict verdict;
    std::vector<registry::Change> changes;
  };
  absl::StatusOr<Trial> FoldOnTop(const facts::Commit& commit) const;

  // Signs a draft, stores it as undelivered, and lays its changes.
  absl::StatusOr<Acted> Keep(const Draft& draft, Trial trial);

  // Reads the undelivered commits and folds them anew on top of the final state.
  absl::Status Refold();

  // Enter by the server's leave, as said at Join; set the certificate of `credentials` and write
  // them down.
  absl::Status ClaimServer(const std::string& secret, const PublicKey& tls_key,
                           sync::Credentials& credentials);
  absl::Status JoinCooperative(const Hash& cooperative, const Signer& invite,
                               const PublicKey& tls_key, sync::Credentials& credentials);

  // One session for one own chain; adds to what changed.
  absl::StatusOr<sync::Progress> SyncChain(const facts::ChainId& which,
                                           const sync::Options& options, Synced& synced);

  // Folds what of the log is not folded yet: after a rebuild began, or was cut off.
  absl::Status FoldRest();
};

}  // namespace broodpact::replica
