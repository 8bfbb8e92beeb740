#pragma once

// Takes in what others have not delivered yet: commits that a bundle carries, each held against its
// device's key and chain.

#include <cstdint>
#include <functional>
#include <map>
#include <optional>
#include <vector>

#include "absl/status/statusor.h"

#include "client/replica/replica.h"
#include "client/store/store.h"

namespace broodpact::replica {

class MailIntake {
 public:
  using KeyOf = std::function<absl::StatusOr<std::optional<PublicKey>>(const DeviceId&)>;

  // `database` outlives this.
  MailIntake(store::Store& database, const Hash& cooperative, KeyOf key_of)
      : store_(database), cooperative_(cooperative), key_of_(std::move(key_of)) {}

  // Reads what is pending already.
  absl::Status Load();

  // Takes what follows on what is known, and counts the rest in `report`.
  // Errors: RESOURCE_EXHAUSTED with reason MAIL_FULL; those of the store.
  absl::Status Add(const std::vector<facts::SignedCommit>& mail, BundleReport& report);

 private:
  enum class Fate { kTaken, kKnown, kEarly, kForked, kRefused };

  absl::StatusOr<Fate> FateOf(const facts::Commit& commit,
                              const facts::SignedCommit& signed_commit);
  // The commit that is known at a place of a chain, delivered or not; nothing if none is.
  absl::StatusOr<std::optional<Hash>> HashAt(const facts::ChainId& chain, std::uint64_t seq);

  store::Store& store_;
  Hash cooperative_;
  KeyOf key_of_;
  std::map<facts::ChainId, std::map<std::uint64_t, Hash>> pending_;
  std::size_t pending_count_ = 0;
};

}  // namespace broodpact::replica
