#pragma once

// The first reading of a bundle: what it tells of losses, what a known server's head vouches for,
// and which heads convict it.

#include <cstddef>
#include <cstdint>
#include <map>
#include <optional>
#include <vector>

#include "absl/status/statusor.h"

#include "client/facts/arrival.h"
#include "client/replica/internal/history.h"
#include "client/replica/replica.h"
#include "client/store/store.h"
#include "client/sync/bundle.h"
#include "client/sync/head.h"
#include "client/sync/session.h"

namespace broodpact::replica {

// Which blocks of a bundle's log belong together: the first that begins within the log here, and
// then each that begins where the one before it ended. Any other is passed over. Each reading goes
// by it alone, so that all of them come past the same arrivals.
class BundlePath {
 public:
  // The log here has so many arrivals.
  explicit BundlePath(std::uint64_t here) : here_(here) {}

  // Whether the block belongs to it. The caller says then where it ends, and reads it to there.
  bool TakesUp(const sync::BundleLog& log);
  void ComeTo(std::uint64_t arrivals) { at_ = arrivals; }

  bool begun() const { return at_.has_value(); }

 private:
  std::uint64_t here_;
  std::optional<std::uint64_t> at_;
};

class BundleSurvey {
 public:
  // Heads that one bundle is read for.
  static constexpr std::size_t kHeadsMax = 64;

  // Stages that one bundle is taken in: 40 bytes each, for more of a log than any file holds.
  // Heads beyond them vouch for nothing.
  static constexpr std::size_t kStagesMax = 65'536;

  // `known` is the last head of the server, if any. All that is passed outlives this. A stage ends
  // with the block that brings it to `stage_arrivals`.
  BundleSurvey(store::Store& database, const Hash& cooperative,
               const std::optional<sync::Head>& known,
               std::size_t stage_arrivals = sync::kRangeCommitsMax)
      : store_(database),
        cooperative_(cooperative),
        known_(known),
        stage_arrivals_(stage_arrivals),
        path_(database.point().arrivals) {}

  // The blocks in their order.
  // Errors: FAILED_PRECONDITION with reason COOPERATIVE_OTHER; those of facts::ArrivalReader and of
  // the store.
  absl::Status Add(const sync::BundleBlock& block);

  // The head up to which the log of the bundle may be taken.
  const std::optional<sync::Head>& vouching() const { return vouching_; }
  // The places up to which it is to be taken at a time, each within a bounded memory; the last is
  // that head's. None where no head vouches for it.
  std::vector<facts::LogPoint> stages() const;
  const std::optional<Doubt>& doubt() const { return doubt_; }
  // Whether its log is another one than here, or of a server that is not known here: what is
  // missing of it is to be carried, each commit by the word of its author.
  bool is_other_log() const { return lost_head_ || after_loss_ || of_other_server_; }

  // Of the heads of logs that a server has lost, or is to say whether it has: the farthest that the
  // log in the bundle leads to; where it leads to none, the farthest.
  const std::optional<sync::Head>& lost_head() const {
    return shown_lost_ ? shown_lost_ : lost_head_;
  }

  // Why none of its log was taken, where it has some.
  PassedOver passed_over() const;

 private:
  // Keeps the epochs that the server of today has signed.
  absl::Status AddEpochs(sync::Epochs told);
  // A head that is badly signed says nothing.
  absl::Status AddHead(const sync::Head& head);
  // A head of another log than the one here. In a later epoch its server itself says that it has
  // lost something.
  void NoteOther(const sync::Head& head);
  void NoteLost(const sync::Head& head);
  absl::Status AddLog(const sync::BundleLog& log);
  // The log in the bundle leads to that place.
  void NoteReached(const facts::LogPoint& at);
  // Ends a stage that is long enough, where a block does.
  void EndStage();

  store::Store& store_;
  const Hash& cooperative_;
  const std::optional<sync::Head>& known_;
  std::map<std::uint64_t, sync::Head> heads_;  // of more arrivals than there are here
  std::size_t stage_arrivals_;
  BundlePath path_;
  facts::LogPoint at_{};  // where the path has come to
  std::vector<facts::LogPoint> stage_ends_;
  std::size_t stage_count_ = 0;  // arrivals after the last of them that are not here
  std::size_t stage_bytes_ = 0;  // of their commits
  std::optional<sync::Head> vouching_;
  std::map<std::uint64_t, sync::Head> lost_heads_;  // that do not hold any more, or are in doubt
  std::optional<sync::Head> lost_head_;             // the farthest of them
  std::optional<sync::Head> shown_lost_;            // of them, of the log in the bundle
  std::optional<Doubt> doubt_;
  bool of_other_server_ = false;
  bool after_loss_ = false;
  bool begins_later_ = false;
  bool parts_ = false;  // it is not the log here that goes on in it
};

}  // namespace broodpact::replica
