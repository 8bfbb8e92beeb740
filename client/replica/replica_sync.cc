// Sync: the replica as a session's target, and what follows from what came in.

#include <algorithm>
#include <map>
#include <set>

#include <fmt/format.h>

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
  ChainTarget(store::Store& database, Ledger& ledger, facts::ChainId chain,
              const std::vector<Replica::Undelivered>& undelivered, const device::Clock& clock)
      : store_(database), ledger_(ledger), chain_(chain), clock_(clock) {
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
    BP_RETURN_IF_ERROR(CheckOnOwnChain(server_head));
    std::vector<facts::SignedCommit> run;
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
    return Fail(absl::StatusCode::kFailedPrecondition, "CHAIN_FORK",
                fmt::format("the server has a commit {} of this device that is not from here: the "
                            "key or the folder was copied, or restored from a backup; go on in one "
                            "folder only, and enter there what `broodpact log --mine` shows here "
                            "without an arrival number",
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
  const device::Clock& clock_;
  std::vector<const Replica::Undelivered*> own_;  // of this chain, in order
  Verdicts provisional_;
  std::vector<ChangedVerdict> changed_;
  std::optional<sync::Head> head_;
  bool head_written_ = true;
  std::int64_t head_written_ms_ = 0;
  std::uint64_t commits_applied_ = 0;
};

bool IsStaleCertificate(const absl::Status& status) {
  const std::string reason = ReasonOf(status);
  // Damaged: a renewal that was cut off between the key and the certificate.
  // Other: files of two homes that were mixed up.
  return reason == "CERTIFICATE_EXPIRED" || reason == "CERTIFICATE_OTHER" ||
         reason == "CERTIFICATE_DAMAGED";
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

absl::StatusOr<sync::Progress> Replica::Rep::SyncChain(const facts::ChainId& which,
                                                       const sync::Options& options,
                                                       Synced& synced) {
  BP_ASSIGN_OR_RETURN(std::optional<sync::Credentials> credentials, home.ReadCredentials());
  if (!credentials) {
    return Fail(absl::StatusCode::kFailedPrecondition, "NO_SERVER",
                "no server yet; `broodpact join` with a code from one enters it");
  }
  ChainTarget target(*store, *ledger, which, undelivered, clock);
  absl::StatusOr<sync::Progress> progress = sync::RunSession(*credentials, target, options);
  if (!progress.ok() && IsStaleCertificate(progress.status())) {
    BP_ASSIGN_OR_RETURN(*credentials, Renewed(home, *credentials, *key));
    progress = sync::RunSession(*credentials, target, options);
  }
  for (ChangedVerdict& changed : target.TakeChanged()) synced.changed.push_back(std::move(changed));
  // What came in before an error stays, and shows.
  absl::Status kept = target.Settle();
  if (kept.ok() && target.commits_applied() >= kDurableRange) kept = store->Flush();
  if (absl::Status refolded = Refold(); kept.ok()) kept = refolded;
  if (!progress.ok()) return progress.status();
  BP_RETURN_IF_ERROR(kept);
  return progress;
}

absl::StatusOr<Synced> Replica::Sync(const sync::Options& options) {
  BP_RETURN_IF_ERROR(rep_->CheckWritable());
  BP_RETURN_IF_ERROR(CheckFounded(cooperative()));
  std::set<facts::ChainId> earlier;
  for (const Undelivered& one : rep_->undelivered) {
    if (const facts::ChainId chain = facts::ChainOf(one.commit.header); chain != rep_->chain()) {
      earlier.insert(chain);
    }
  }
  Synced synced;
  for (const facts::ChainId& chain : earlier) {
    sync::Options once = options;
    once.mode = sync::Mode::kOnce;
    const absl::StatusOr<sync::Progress> progress = rep_->SyncChain(chain, once, synced);
    if (progress.ok()) {
      synced.progress.commits_sent += progress->commits_sent;
      synced.progress.commits_received += progress->commits_received;
    } else if (ReasonOf(progress.status()) != "CHAIN_FORK") {
      // A fork of a chain that is not written to any more stays where it is: undelivered, shown.
      return progress.status();
    }
  }
  BP_ASSIGN_OR_RETURN(const sync::Progress progress,
                      rep_->SyncChain(rep_->chain(), options, synced));
  synced.progress.commits_sent += progress.commits_sent;
  synced.progress.commits_received += progress.commits_received;
  synced.progress.arrivals = progress.arrivals;
  synced.progress.arrivals_server = progress.arrivals_server;
  synced.point = rep_->store->point();
  return synced;
}

}  // namespace broodpact::replica
