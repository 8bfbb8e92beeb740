#include "client/replica/internal/mail.h"

#include <utility>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/replica/bundle.h"

namespace broodpact::replica {

absl::Status MailIntake::Load() {
  BP_ASSIGN_OR_RETURN(const std::vector<store::PendingCommit> pending, store_.Pending());
  for (const store::PendingCommit& one : pending) {
    pending_[one.chain].emplace(one.seq, Sha256(one.commit.bytes));
  }
  pending_count_ = pending.size();
  return absl::OkStatus();
}

absl::StatusOr<std::optional<Hash>> MailIntake::HashAt(const facts::ChainId& chain,
                                                       std::uint64_t seq) {
  BP_ASSIGN_OR_RETURN(const std::optional<std::uint64_t> arrival, store_.ArrivalOf(chain, seq));
  if (arrival) {
    BP_ASSIGN_OR_RETURN(const store::StoredArrival stored, store_.ReadArrival(*arrival));
    return std::optional<Hash>(Sha256(stored.bytes));
  }
  const auto waiting = pending_.find(chain);
  if (waiting == pending_.end()) return std::optional<Hash>();
  const auto found = waiting->second.find(seq);
  return found == waiting->second.end() ? std::optional<Hash>() : found->second;
}

absl::StatusOr<MailIntake::Fate> MailIntake::FateOf(const facts::Commit& commit,
                                                    const facts::SignedCommit& signed_commit) {
  const facts::CommitHeader& header = commit.header;
  if (header.cooperative != cooperative_) {
    return commit.hash == cooperative_ ? Fate::kKnown : Fate::kRefused;
  }
  BP_ASSIGN_OR_RETURN(const std::optional<PublicKey> key, key_of_(header.device));
  if (!key || !facts::VerifyCommit(*key, commit.hash, signed_commit.signature)) {
    return Fate::kRefused;
  }
  const facts::ChainId chain = facts::ChainOf(header);
  BP_ASSIGN_OR_RETURN(const std::optional<Hash> standing, HashAt(chain, header.seq));
  if (standing) return *standing == commit.hash ? Fate::kKnown : Fate::kForked;
  if (header.seq == 1) return Fate::kTaken;
  BP_ASSIGN_OR_RETURN(const std::optional<Hash> before, HashAt(chain, header.seq - 1));
  if (!before) return Fate::kEarly;
  return *before == header.prev ? Fate::kTaken : Fate::kForked;
}

absl::Status MailIntake::Add(const std::vector<facts::SignedCommit>& mail, BundleReport& report) {
  std::vector<store::PendingCommit> taken;
  bool full = false;
  for (const facts::SignedCommit& signed_commit : mail) {
    const absl::StatusOr<facts::Commit> commit = facts::ParseCommit(signed_commit.bytes);
    Fate fate = Fate::kRefused;
    if (commit.ok()) {
      BP_ASSIGN_OR_RETURN(fate, FateOf(*commit, signed_commit));
    }
    switch (fate) {
      case Fate::kKnown:
        ++report.mail_known;
        continue;
      case Fate::kEarly:
        ++report.mail_early;
        continue;
      case Fate::kForked:
        ++report.mail_forked;
        continue;
      case Fate::kRefused:
        ++report.mail_refused;
        continue;
      case Fate::kTaken:
        break;
    }
    full = pending_count_ >= kCarriedMax;
    if (full) break;
    const facts::ChainId chain = facts::ChainOf(commit->header);
    pending_[chain].emplace(commit->header.seq, commit->hash);
    ++pending_count_;
    ++report.mail_taken;
    taken.push_back({.chain = chain, .seq = commit->header.seq, .commit = signed_commit});
  }
  if (!taken.empty()) BP_RETURN_IF_ERROR(store_.AppendPending(taken));
  if (!full) return absl::OkStatus();
  return Fail(
      absl::StatusCode::kResourceExhausted, "MAIL_FULL",
      fmt::format("{} commits wait to be delivered here, and no more are taken; sync first, "
                  "then read the bundle again",
                  pending_count_));
}

}  // namespace broodpact::replica
