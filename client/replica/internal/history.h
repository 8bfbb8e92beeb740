#pragma once

// Holds the server to what it has signed: compares heads, and what other devices say they have
// seen, with the log that this replica has, and keeps what convicts it.

#include <cstdint>
#include <deque>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/statusor.h"

#include "client/facts/range.h"
#include "client/replica/replica.h"
#include "client/store/store.h"
#include "client/sync/epoch.h"
#include "client/sync/head.h"

namespace broodpact::replica {

// Whether the log has come to that place, and was the same there. Of a place before the log begins
// it is not known, and so not.
// Errors: those of the store.
absl::StatusOr<bool> IsPlaceOf(const store::Store& database, const facts::LogPoint& place);

// How a signed head and this replica's log go together.
enum class HeadFit {
  kOurs,    // the head of a beginning of this log
  kAhead,   // of more arrivals than this log has: not known yet
  kOther,   // of another log
  kBefore,  // of fewer arrivals than this log begins after: not known yet either
};

// Errors: those of the store.
absl::StatusOr<HeadFit> FitOf(const store::Store& database, const facts::HeadClaim& head);

// What convicts the server, as it is kept: at most kDoubtsMax, the first ones.
inline constexpr std::size_t kDoubtsMax = 16;
absl::StatusOr<std::vector<Doubt>> ReadDoubts(const store::Store& database);

// Doubts as bytes, one after the other, each as texts (base/bytes.h): reason, message, the two
// heads (sync/head.h). What is malformed ends them.
std::string EncodeDoubts(const std::vector<Doubt>& doubts);
std::vector<Doubt> DecodeDoubts(std::string_view bytes);

// Whether one more may be added: there is room, and none of the same place.
bool HasRoomFor(const std::vector<Doubt>& doubts, const Doubt& doubt);

// Adds one, unless the same is kept already or there is no room.
absl::Status KeepDoubt(store::Store& database, const Doubt& doubt);

// Takes away the doubts that the epochs explain: of a log that the server says it has lost.
absl::Status ForgetDoubts(store::Store& database, const sync::Epochs& epochs);

// The doubt about `theirs`, which is not of this log, against `ours`, which is.
Doubt TwoHistories(const sync::Head& ours, const sync::Head& theirs);
// The doubt about a server whose log had `before` and now has only `after`.
Doubt ShrunkLog(const sync::Head& before, const sync::Head& after);
// This replica's log is not the one that the server signed when it was fetched: DATA_LOSS with
// reason STORE_DAMAGED.
absl::Status DamagedLogError();
// A doubt as the error that a sync ends with. DATA_LOSS with reason LOG_FORKED or LOG_SHRUNK.
absl::Status ErrorOf(const Doubt& doubt);

// Compares what commits say they have seen with the log before them.
//
// The log hashes of the newest ranges are at hand; what lies further back is looked up in the
// store, at most kLooksBackMax times, so that a first sync is not slowed down by it.
class SeenCheck {
 public:
  static constexpr int kLooksBackMax = 512;

  // `database` outlives this.
  explicit SeenCheck(const store::Store& database) : store_(database) {}

  // Takes the ranges of a session one after the other, before they are stored. Returns a doubt
  // for each place where commits have seen another log, the first kDoubtsMax of a session: they
  // come in numbers then. What an author may have seen before the server lost it, by `epochs`, is
  // no doubt.
  absl::StatusOr<std::vector<Doubt>> Follow(const facts::Range& range, const sync::Epochs& epochs);

 private:
  // Whether the commit has seen this log, as far as it is looked for.
  absl::StatusOr<bool> Fits(const facts::Arrived& arrived);

  // First half of the log hash after `arrivals`; nothing where it is not looked for.
  absl::StatusOr<std::optional<IdBytes>> HashAt(std::uint64_t arrivals);

  const store::Store& store_;
  std::deque<IdBytes> hashes_;  // after first_, first_ + 1 ... arrivals
  std::uint64_t first_ = 0;
  std::map<std::uint64_t, IdBytes> looked_up_;
  int looks_ = 0;
  std::set<std::uint64_t> doubted_;
};

}  // namespace broodpact::replica
