#pragma once

// Takes in what others have not delivered yet: commits that a bundle carries, each held against its
// device's key and chain. One without a signature of its own is vouched for by the one that follows
// on it, as in a run.

#include <cstddef>
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

// How much waits that is of others.
struct MailSize {
  std::size_t commits = 0;
  std::size_t bytes = 0;  // of them
};
inline constexpr MailSize kMailMax{.commits = kCarriedMax, .bytes = kCarriedBytesMax};

class MailIntake {
 public:
  using KeyOf = std::function<absl::StatusOr<std::optional<PublicKey>>(const DeviceId&)>;

  // `database` and `own` outlive this. Of others nothing is taken beyond `waiting_max`.
  MailIntake(store::Store& database, const Hash& cooperative, const Signer& own, KeyOf key_of,
             const MailSize& waiting_max = kMailMax)
      : store_(database),
        cooperative_(cooperative),
        own_(own),
        own_device_(DeviceOf(own.public_key())),
        key_of_(std::move(key_of)),
        waiting_max_(waiting_max) {}

  // Reads what is pending already.
  absl::Status Load();

  // Takes what follows on what is known, and counts the rest in `report`.
  // Errors: RESOURCE_EXHAUSTED with reason MAIL_FULL (it is more of others than may wait; what
  // there was room for is taken, and all that is own); those of the store.
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

  absl::StatusOr<Fate> FateOf(const Letter& letter);
  absl::StatusOr<Fate> FateInChain(const facts::Commit& commit);
  // Counts what is neither taken nor lost.
  static void CountLeft(Fate fate, BundleReport& report);
  bool IsOwn(const DeviceId& device) const { return device == own_device_; }
  // Whether one more of others fits, of so many bytes.
  bool HasRoomFor(std::size_t bytes) const;
  absl::Status FullError() const;
  void NotePending(const store::PendingCommit& pending, const Hash& hash);
  // As it came; an own one that a later one vouches for with a signature of its own.
  facts::SignedCommit Signed(const facts::SignedCommit& commit, const facts::Commit& parsed) const;
  // Whether an own commit can never arrive at its place: another one did there, or before it.
  absl::StatusOr<bool> IsLost(const facts::Commit& commit) const;
  // The commit that is known at a place of a chain, delivered or not; nothing if none is.
  absl::StatusOr<std::optional<Hash>> HashAt(const facts::ChainId& chain, std::uint64_t seq);

  store::Store& store_;
  Hash cooperative_;
  const Signer& own_;
  DeviceId own_device_;
  KeyOf key_of_;
  MailSize waiting_max_;
  std::map<facts::ChainId, std::map<std::uint64_t, Hash>> pending_;
  MailSize carried_;  // what of that is of others
  std::vector<facts::SignedCommit> lost_;
  Hash lost_last_{};  // the newest of them
};

}  // namespace broodpact::replica
