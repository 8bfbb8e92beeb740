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
    NotePending(one, Sha256(one.commit.bytes));
  }
  return absl::OkStatus();
}

void MailIntake::NotePending(const store::PendingCommit& pending, const Hash& hash) {
  pending_[pending.chain].emplace(pending.seq, hash);
  if (IsOwn(pending.chain.device)) return;
  ++carried_.commits;
  carried_.bytes += pending.commit.bytes.size();
}

bool MailIntake::HasRoomFor(std::size_t bytes) const {
  return carried_.commits < waiting_max_.commits && carried_.bytes + bytes <= waiting_max_.bytes;
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
  if (!IsOwn(header.device)) return false;
  if (!lost_.empty() && header.prev == lost_last_) return true;
  BP_ASSIGN_OR_RETURN(const facts::ChainHead arrived, store_.HeadOf(facts::ChainOf(header)));
  return ReasonOf(facts::CheckFollows(arrived, commit)) == "CHAIN_FORK";
}

absl::StatusOr<MailIntake::Fate> MailIntake::FateOf(const Letter& letter) {
  if (!letter.commit) return Fate::kRefused;
  if (letter.commit->header.cooperative != cooperative_) {
    return letter.commit->hash == cooperative_ ? Fate::kKnown : Fate::kRefused;
  }
  if (!letter.vouched) return Fate::kRefused;
  return FateInChain(*letter.commit);
}

absl::StatusOr<MailIntake::Fate> MailIntake::FateInChain(const facts::Commit& commit) {
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

facts::SignedCommit MailIntake::Signed(const facts::SignedCommit& commit,
                                       const facts::Commit& parsed) const {
  facts::SignedCommit made = commit;
  const bool unsigned_own = IsOwn(parsed.header.device) && made.signature == Signature{};
  if (unsigned_own) made.signature = facts::SignCommit(own_, parsed.hash);
  return made;
}

void MailIntake::CountLeft(Fate fate, BundleReport& report) {
  switch (fate) {
    case Fate::kKnown:
      ++report.mail_known;
      return;
    case Fate::kEarly:
      ++report.mail_early;
      return;
    case Fate::kForked:
      ++report.mail_forked;
      return;
    case Fate::kRefused:
      ++report.mail_refused;
      return;
    case Fate::kTaken:
    case Fate::kLost:
      return;
  }
}

absl::Status MailIntake::Add(const std::vector<facts::SignedCommit>& mail, BundleReport& report) {
  std::vector<store::PendingCommit> taken;
  bool full = false;
  BP_ASSIGN_OR_RETURN(const std::vector<Letter> letters, LettersIn(mail));
  for (std::size_t i = 0; i < mail.size(); ++i) {
    BP_ASSIGN_OR_RETURN(const Fate fate, FateOf(letters[i]));
    CountLeft(fate, report);
    if (fate != Fate::kTaken && fate != Fate::kLost) continue;
    const facts::Commit& commit = *letters[i].commit;
    if (fate == Fate::kLost) {
      lost_.push_back(Signed(mail[i], commit));
      lost_last_ = commit.hash;
      continue;
    }
    const bool own = IsOwn(commit.header.device);
    full = full || (!own && !HasRoomFor(mail[i].bytes.size()));
    if (full && !own) continue;  // what comes after it is own, or waits for it
    taken.push_back({.chain = facts::ChainOf(commit.header),
                     .seq = commit.header.seq,
                     .commit = Signed(mail[i], commit)});
    NotePending(taken.back(), commit.hash);
    ++report.mail_taken;
  }
  if (!taken.empty()) BP_RETURN_IF_ERROR(store_.AppendPending(taken));
  return full ? FullError() : absl::OkStatus();
}

absl::Status MailIntake::FullError() const {
  return Fail(
      absl::StatusCode::kResourceExhausted, "MAIL_FULL",
      fmt::format("{} commits of others wait to be delivered here, of {} bytes, and no more "
                  "are taken; sync first, then read the bundle again",
                  carried_.commits, carried_.bytes));
}

}  // namespace broodpact::replica
