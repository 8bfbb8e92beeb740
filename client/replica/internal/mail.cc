#include "client/replica/internal/mail.h"

#include <utility>

#include <fmt/format.h>

#include "client/base/status.h"

namespace broodpact::replica {

namespace {

// Whether `next` is the commit after `one` in its chain.
bool Follows(const facts::Commit& next, const facts::Commit& one) {
  return facts::ChainOf(next.header) == facts::ChainOf(one.header) &&
         facts::CheckFollows(facts::HeadAfter(one), next).ok();
}

}  // namespace

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
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> arrived, store_.CommitAt(chain, seq));
  if (arrived) return std::optional<Hash>(Sha256(*arrived));
  const auto waiting = pending_.find(chain);
  if (waiting == pending_.end()) return std::optional<Hash>();
  const auto found = waiting->second.find(seq);
  return found == waiting->second.end() ? std::optional<Hash>() : found->second;
}

absl::StatusOr<std::vector<MailIntake::Letter>> MailIntake::LettersIn(
    const std::vector<facts::SignedCommit>& mail) {
  std::vector<Letter> letters(mail.size());
  for (std::size_t i = mail.size(); i-- > 0;) {
    absl::StatusOr<facts::Commit> commit = facts::ParseCommit(mail[i].bytes);
    if (!commit.ok()) continue;
    Letter& letter = letters[i];
    letter.commit = *std::move(commit);
    if (mail[i].signature == Signature{}) {
      if (i + 1 == mail.size()) continue;
      const Letter& next = letters[i + 1];
      letter.vouched = next.vouched && next.commit && Follows(*next.commit, *letter.commit);
      continue;
    }
    BP_ASSIGN_OR_RETURN(const std::optional<PublicKey> key, key_of_(letter.commit->header.device));
    letter.vouched = key && facts::VerifyCommit(*key, letter.commit->hash, mail[i].signature);
  }
  return letters;
}

absl::StatusOr<bool> MailIntake::IsLost(const facts::Commit& commit) const {
  const facts::CommitHeader& header = commit.header;
  if (header.device != own_device_) return false;
  if (!lost_.empty() && header.prev == lost_last_) return true;
  BP_ASSIGN_OR_RETURN(const facts::ChainHead arrived, store_.HeadOf(facts::ChainOf(header)));
  return ReasonOf(facts::CheckFollows(arrived, commit)) == "CHAIN_FORK";
}

absl::StatusOr<MailIntake::Fate> MailIntake::FateOf(const facts::Commit& commit) {
  const facts::CommitHeader& header = commit.header;
  const facts::ChainId chain = facts::ChainOf(header);
  BP_ASSIGN_OR_RETURN(const std::optional<Hash> standing, HashAt(chain, header.seq));
  if (standing && *standing == commit.hash) return Fate::kKnown;
  BP_ASSIGN_OR_RETURN(const bool lost, IsLost(commit));
  if (lost) return Fate::kLost;
  if (standing) return Fate::kForked;
  if (header.seq == 1) return Fate::kTaken;
  BP_ASSIGN_OR_RETURN(const std::optional<Hash> before, HashAt(chain, header.seq - 1));
  if (!before) return Fate::kEarly;
  return *before == header.prev ? Fate::kTaken : Fate::kForked;
}

absl::Status MailIntake::Add(const std::vector<facts::SignedCommit>& mail, BundleReport& report) {
  std::vector<store::PendingCommit> taken;
  bool full = false;
  BP_ASSIGN_OR_RETURN(const std::vector<Letter> letters, LettersIn(mail));
  for (std::size_t i = 0; i < mail.size(); ++i) {
    const std::optional<facts::Commit>& commit = letters[i].commit;
    facts::SignedCommit signed_commit = mail[i];
    Fate fate = Fate::kRefused;
    if (commit && commit->header.cooperative != cooperative_) {
      fate = commit->hash == cooperative_ ? Fate::kKnown : Fate::kRefused;
    } else if (letters[i].vouched) {
      BP_ASSIGN_OR_RETURN(fate, FateOf(*commit));
    }
    const bool unsigned_own = letters[i].vouched && commit->header.device == own_device_ &&
                              signed_commit.signature == Signature{};
    if (unsigned_own) signed_commit.signature = facts::SignCommit(own_, commit->hash);
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
      case Fate::kLost:
        lost_.push_back(std::move(signed_commit));
        lost_last_ = commit->hash;
        continue;
      case Fate::kRefused:
        ++report.mail_refused;
        continue;
      case Fate::kTaken:
        break;
    }
    full = pending_count_ >= waiting_max_;
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
