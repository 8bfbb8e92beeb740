#pragma once

// Takes in what others have not delivered yet: commits that a bundle carries, each held against its
// device's key and chain. One without a signature of its own is vouched for by the one that follows
// on it, as in a run.

#include <cstdint>
#include <functional>
#include <map>
#include <optional>
#include <vector>

#include "absl/status/statusor.h"

#include "client/replica/bundle.h"
#include "client/replica/replica.h"
#include "client/store/store.h"

namespace broodpact::replica {

class MailIntake {
 public:
  using KeyOf = std::function<absl::StatusOr<std::optional<PublicKey>>(const DeviceId&)>;

  // `database` and `own` outlive this. Nothing more is taken where `waiting_max` commits wait.
  MailIntake(store::Store& database, const Hash& cooperative, const Signer& own, KeyOf key_of,
             std::size_t waiting_max = kCarriedMax)
      : store_(database),
        cooperative_(cooperative),
        own_(own),
        own_device_(DeviceOf(own.public_key())),
        key_of_(std::move(key_of)),
        waiting_max_(waiting_max) {}

  // Reads what is pending already.
  absl::Status Load();

  // Takes what follows on what is known, and counts the rest in `report`.
  // Errors: RESOURCE_EXHAUSTED with reason MAIL_FULL; those of the store.
  absl::Status Add(const std::vector<facts::SignedCommit>& mail, BundleReport& report);

  // Own commits whose places the log has given to others, as they came: to be stated again. Not
  // counted in the report.
  const std::vector<facts::SignedCommit>& lost() const { return lost_; }

 private:
  enum class Fate { kTaken, kKnown, kEarly, kForked, kLost, kRefused };

  // A commit of the mail, if it is one, and whether its device vouches for it.
  struct Letter {
    std::optional<facts::Commit> commit{};
    bool vouched = false;
  };
  absl::StatusOr<std::vector<Letter>> LettersIn(const std::vector<facts::SignedCommit>& mail);

  absl::StatusOr<Fate> FateOf(const facts::Commit& commit);
  // Whether an own commit can never arrive at its place: another one did there, or before it.
  absl::StatusOr<bool> IsLost(const facts::Commit& commit) const;
  // The commit that is known at a place of a chain, delivered or not; nothing if none is.
  absl::StatusOr<std::optional<Hash>> HashAt(const facts::ChainId& chain, std::uint64_t seq);

  store::Store& store_;
  Hash cooperative_;
  const Signer& own_;
  DeviceId own_device_;
  KeyOf key_of_;
  std::size_t waiting_max_;
  std::map<facts::ChainId, std::map<std::uint64_t, Hash>> pending_;
  std::size_t pending_count_ = 0;
  std::vector<facts::SignedCommit> lost_;
  Hash lost_last_{};  // the newest of them
};

}  // namespace broodpact::replica
