#pragma once

// The first reading of a bundle: what it tells of losses, what a known server's head vouches for,
// and which heads convict it.

#include <cstddef>
#include <cstdint>
#include <map>
#include <optional>

#include "absl/status/statusor.h"

#include "client/facts/arrival.h"
#include "client/replica/internal/history.h"
#include "client/replica/replica.h"
#include "client/store/store.h"
#include "client/sync/bundle.h"
#include "client/sync/head.h"

namespace broodpact::replica {

class BundleSurvey {
 public:
  // Heads that one bundle is read for.
  static constexpr std::size_t kHeadsMax = 64;

  // `known` is the last head of the server, if any. All that is passed outlives this.
  BundleSurvey(store::Store& database, const Hash& cooperative,
               const std::optional<sync::Head>& known)
      : store_(database), cooperative_(cooperative), known_(known) {}

  // The blocks in their order.
  // Errors: FAILED_PRECONDITION with reason COOPERATIVE_OTHER; those of the store.
  absl::Status Add(const sync::BundleBlock& block);

  // The head up to which the log of the bundle may be taken.
  const std::optional<sync::Head>& vouching() const { return vouching_; }
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
  // Arrivals of the farthest head that the log may lead to.
  std::uint64_t FarthestHead() const;

  store::Store& store_;
  const Hash& cooperative_;
  const std::optional<sync::Head>& known_;
  std::map<std::uint64_t, sync::Head> heads_;  // of more arrivals than there are here
  std::optional<facts::LogPoint> at_;
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
