// Sync: the replica as a session's target, and what follows from what came in.

#include <algorithm>
#include <map>
#include <set>
#include <utility>

#include <fmt/format.h>

#include "client/base/day.h"
#include "client/base/status.h"
#include "client/replica/internal/head.h"
#include "client/replica/internal/rep.h"
#include "client/replica/replica.h"
#include "client/sync/joining.h"

namespace broodpact::replica {
namespace {

// From so many commits on, a range is made durable when it is stored, and the next one is folded
// meanwhile. A smaller one can wait for the next durable write: what a power loss takes of it, the
// server gives again, and own commits leave the undelivered ones in the same batch.
constexpr std::size_t kDurableRange = 256;

// How often a session that follows writes down the server's head.
constexpr std::int64_t kHeadIntervalMillis = 1'000;

// How often a sync begins a new life of the device before it gives up: each time, another copy of
// the device would have to have taken the life in the very moment before.
constexpr int kLivesPerSync = 4;

using Verdicts = std::map<Hash, registry::Verdict>;

bool Differ(const registry::Verdict& one, const registry::Verdict& other) {
  return one.kind != other.kind || one.reason != other.reason;
}

absl::Status HoleError(std::uint64_t seq, std::uint64_t last) {
  return Fail(
      absl::StatusCode::kDataLoss, "CHAIN_HOLE",
      fmt::format("commit {} of this device comes after {}, and what was between is missing "
                  "from this folder; nothing of it was sent; put the folder back from a "
                  "backup, or join again from a fresh one",
                  seq, last));
}

// One chain of this replica, as a session needs it.
class ChainTarget final : public sync::Target {
 public:
  // All that is passed outlives the target. `undelivered` is of the whole replica.
  ChainTarget(store::Store& database, Ledger& ledger, const ChainTask& task,
              const std::vector<Replica::Undelivered>& undelivered, const device::Clock& clock)
      : store_(database), ledger_(ledger), chain_(task.chain), work_(task.work), clock_(clock) {
    for (const Replica::Undelivered& one : undelivered) {
      provisional_.emplace(one.commit.hash, one.verdict);
      if (facts::ChainOf(one.commit.header) == chain_) own_.push_back(&one);
    }
  }

  Hash cooperative() const override { return ledger_.cooperative(); }
  std::uint32_t incarnation() const override { return chain_.incarnation; }
  facts::LogPoint point() const override { return ledger_.point(); }

  absl::Status Apply(facts::Range received) override {
    const auto range = std::make_shared<const facts::Range>(std::move(received));
    const bool large = range->arrivals.size() >= kDurableRange;
    BP_ASSIGN_OR_RETURN(const std::vector<registry::Verdict> verdicts,
                        large ? ledger_.AppendAhead(range, chain_)
                              : ledger_.Append(*range, chain_, store::Durability::kWritten));
    commits_applied_ += range->arrivals.size();
    for (std::size_t i = 0; i < verdicts.size(); ++i) Compare(range->arrivals[i], verdicts[i]);
    return absl::OkStatus();
  }

  absl::StatusOr<std::vector<facts::SignedCommit>> Undelivered(
      const facts::ChainHead& server_head) override {
    std::vector<facts::SignedCommit> run;
    if (work_ == ChainWork::kFetch) return run;
    BP_RETURN_IF_ERROR(CheckOnOwnChain(server_head));
    std::size_t bytes = 0;
    for (const Replica::Undelivered* one : own_) {
      const std::uint64_t seq = one->commit.header.seq;
      if (seq <= server_head.seq) continue;
      if (seq != server_head.seq + run.size() + 1)
        return HoleError(seq, run.size() + server_head.seq);
      bytes += one->signed_commit.bytes.size();
      if (run.size() == sync::kPushCommitsMax || (bytes > sync::kPushBytesMax && !run.empty())) {
        break;
      }
      run.push_back(one->signed_commit);
    }
    return run;
  }

  absl::Status KeepHead(const sync::Head& head) override {
    BP_RETURN_IF_ERROR(LoadHead());
    if (head_ && head_->server_key != head.server_key) {
      return Fail(absl::StatusCode::kPermissionDenied, "SERVER_OTHER",
                  "the server signs its log with another key than before; do not go on before its "
                  "keeper has explained why");
    }
    head_ = head;
    head_written_ = false;
    const std::int64_t now_ms = clock_.NowMillis();
    if (now_ms - head_written_ms_ < kHeadIntervalMillis) return absl::OkStatus();
    head_written_ms_ = now_ms;
    return Settle();
  }

  // Stores what was applied, and the head.
  absl::Status Settle() {
    BP_RETURN_IF_ERROR(ledger_.Settle());
    if (head_written_ || !head_) return absl::OkStatus();
    head_written_ = true;
    return store_.PutMeta(kMetaHead, EncodeHead(*head_));
  }

  std::vector<ChangedVerdict> TakeChanged() { return std::move(changed_); }
  std::uint64_t commits_applied() const { return commits_applied_; }

 private:
  void Compare(const facts::Arrived& arrived, const registry::Verdict& final_verdict) {
    const auto before = provisional_.find(arrived.commit.hash);
    if (before == provisional_.end()) return;
    if (Differ(before->second, final_verdict)) {
      changed_.push_back(
          {.arrival = arrived.arrival, .before = before->second, .after = final_verdict});
    }
    provisional_.erase(before);
  }

  // Whether the server's head of this chain is a commit that this replica wrote.
  absl::Status CheckOnOwnChain(const facts::ChainHead& server_head) const {
    if (server_head.seq == 0) return absl::OkStatus();
    BP_ASSIGN_OR_RETURN(const facts::ChainHead arrived, ledger_.HeadOf(chain_));
    if (server_head.seq < arrived.seq) return absl::OkStatus();  // the log itself tells
    if (server_head == arrived) return absl::OkStatus();
    const bool own = std::ranges::any_of(own_, [&](const Replica::Undelivered* one) {
      return facts::HeadAfter(one->commit) == server_head;
    });
    if (own) return absl::OkStatus();
    return Fail(
        absl::StatusCode::kFailedPrecondition, "CHAIN_FORK",
        fmt::format("the server has a commit {} of this device that is not from here; nothing "
                    "is lost, sync again: what stands in the way is then stated again",
                    server_head.seq));
  }

  absl::Status LoadHead() {
    if (head_) return absl::OkStatus();
    BP_ASSIGN_OR_RETURN(const std::optional<std::string> bytes, store_.Meta(kMetaHead));
    if (bytes) head_ = DecodeHead(*bytes);
    return absl::OkStatus();
  }

  store::Store& store_;
  Ledger& ledger_;
  facts::ChainId chain_;
  ChainWork work_;
  const device::Clock& clock_;
  std::vector<const Replica::Undelivered*> own_;  // of this chain, in order
  Verdicts provisional_;
  std::vector<ChangedVerdict> changed_;
  std::optional<sync::Head> head_;
  bool head_written_ = true;
  std::int64_t head_written_ms_ = 0;
  std::uint64_t commits_applied_ = 0;
};

// Adds what one session did to what those before it did.
void Add(const sync::Progress& session, sync::Progress& all) {
  all.commits_sent += session.commits_sent;
  all.commits_received += session.commits_received;
  all.arrivals = session.arrivals;
  all.arrivals_server = session.arrivals_server;
  if (all.server_ahead_ms == 0) all.server_ahead_ms = session.server_ahead_ms;
}

bool IsStaleCertificate(const absl::Status& status) {
  const std::string reason = ReasonOf(status);
  // Damaged: a renewal that was cut off between the key and the certificate.
  // Other: files of two homes that were mixed up.
  return reason == "CERTIFICATE_EXPIRED" || reason == "CERTIFICATE_OTHER" ||
         reason == "CERTIFICATE_DAMAGED";
}

// A server that cannot prove itself on the day that this clock says, to a device whose certificate
// has run out on that day: it is rather the clock than the server.
absl::Status AsClockSays(const absl::Status& status, std::int64_t now_ms) {
  if (ReasonOf(status) != "SERVER_OTHER") return status;
  return Fail(absl::StatusCode::kFailedPrecondition, "CLOCK_WRONG",
              fmt::format("the clock of this computer says {}, when neither this device's "
                          "certificate nor the server's is good; set the clock and sync again, "
                          "what was recorded is kept",
                          InstantText(now_ms)));
}

absl::StatusOr<sync::Credentials> Renewed(const Home& home, sync::Credentials credentials,
                                          const Signer& device) {
  const device::SecretKey tls_key = device::SecretKey::Generate();
  BP_ASSIGN_OR_RETURN(credentials.certificate_pem,
                      sync::Renew(credentials, device, tls_key.public_key()));
  credentials.key_pem = tls_key.Pem();
  BP_RETURN_IF_ERROR(home.WriteCredentials(credentials));
  return credentials;
}

}  // namespace

absl::StatusOr<std::optional<sync::Head>> Replica::LastHead() const {
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> bytes, rep_->store->Meta(kMetaHead));
  if (!bytes) return std::optional<sync::Head>();
  return DecodeHead(*bytes);
}

absl::Status Replica::Rep::SyncChain(const ChainTask& task, const sync::Options& options,
                                     Synced& synced) {
  BP_ASSIGN_OR_RETURN(std::optional<sync::Credentials> credentials, home.ReadCredentials());
  if (!credentials) {
    return Fail(absl::StatusCode::kFailedPrecondition, "NO_SERVER",
                "no server yet; `broodpact join` with a code from one enters it");
  }
  ChainTarget target(*store, *ledger, task, undelivered, clock);
  absl::StatusOr<sync::Progress> progress = sync::RunSession(*credentials, target, options);
  if (!progress.ok() && IsStaleCertificate(progress.status())) {
    const absl::StatusOr<sync::Credentials> renewed = Renewed(home, *credentials, *key);
    if (!renewed.ok()) return AsClockSays(renewed.status(), clock.NowMillis());
    progress = sync::RunSession(*renewed, target, options);
  }
  for (ChangedVerdict& changed : target.TakeChanged()) synced.changed.push_back(std::move(changed));
  // What came in before an error stays, and shows.
  absl::Status kept = target.Settle();
  if (kept.ok() && target.commits_applied() >= kDurableRange) kept = store->Flush();
  if (absl::Status refolded = Refold(); kept.ok()) kept = refolded;
  if (!progress.ok()) return progress.status();
  BP_RETURN_IF_ERROR(kept);
  Add(*progress, synced.progress);
  return absl::OkStatus();
}

absl::Status Replica::Rep::SyncAll(const sync::Options& options, Synced& synced) {
  std::set<facts::ChainId> earlier;
  for (const Undelivered& one : undelivered) {
    if (const facts::ChainId id = facts::ChainOf(one.commit.header); id != chain()) {
      earlier.insert(id);
    }
  }
  sync::Options once = options;
  once.mode = sync::Mode::kOnce;
  for (const facts::ChainId& id : earlier) {
    BP_RETURN_IF_ERROR(SyncChain({.chain = id}, once, synced));
  }
  return SyncChain({.chain = chain()}, options, synced);
}

absl::StatusOr<Synced> Replica::Sync(const sync::Options& options) {
  BP_RETURN_IF_ERROR(rep_->CheckWritable());
  BP_RETURN_IF_ERROR(CheckFounded(cooperative()));
  Synced synced;
  absl::Status status = rep_->SyncAll(options, synced);
  for (int lives = 0; ReasonOf(status) == "CHAIN_FORK" && lives < kLivesPerSync; ++lives) {
    // With the whole log at hand it shows which own commits arrived, and which life is free.
    sync::Options once = options;
    once.mode = sync::Mode::kOnce;
    BP_RETURN_IF_ERROR(rep_->SyncChain({rep_->chain(), ChainWork::kFetch}, once, synced));
    BP_RETURN_IF_ERROR(rep_->MendForks());
    status = rep_->SyncAll(options, synced);
  }
  BP_RETURN_IF_ERROR(status);
  synced.restated = std::exchange(rep_->restated, 0);
  synced.point = rep_->store->point();
  return synced;
}

}  // namespace broodpact::replica
