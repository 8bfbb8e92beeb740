// Lives of a device: when a new one begins, and what of an older one is stated again in it.
//
// A device whose folder was copied or restored would write a second commit at a place of its chain
// that is taken: a fork. Its other branch keeps its bytes and its signatures, in commits of a new
// life (facts::Restatement); nothing is lost, and nobody waits.

#include <algorithm>
#include <limits>
#include <map>
#include <set>

#include "client/base/status.h"
#include "client/registry/fold.h"
#include "client/replica/internal/pending.h"
#include "client/replica/internal/rep.h"

namespace broodpact::replica {
namespace {

constexpr std::size_t kInstallNumberSize = 16;

using PendingCommits = std::vector<store::PendingCommit>;

// Whether home and database are of one piece, as far as their numbers tell.
absl::StatusOr<bool> IsOfOnePiece(const Home& home, const store::Store& database) {
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> beside, home.ReadInstall());
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> within, database.Meta(kMetaInstall));
  return beside && beside == within;
}

// Whether the own chain, as the database has it up to `head`, lacks the commit at `last`.
bool Lacks(const facts::ChainHead& head, const OwnPlace& last) {
  return head.seq < last.seq || (head.seq == last.seq && head.hash != last.hash);
}

// The own undelivered commits, by chain and in order, without those that have arrived.
absl::StatusOr<std::map<facts::ChainId, PendingCommits>> NotArrived(const store::Store& database,
                                                                    const DeviceId& device) {
  BP_ASSIGN_OR_RETURN(PendingCommits pending, database.Pending());
  Deliveries deliveries(database);
  std::map<facts::ChainId, PendingCommits> chains;
  for (store::PendingCommit& one : pending) {
    if (one.chain.device != device) continue;
    BP_ASSIGN_OR_RETURN(const bool arrived, deliveries.Has(one));
    if (!arrived) chains[one.chain].push_back(std::move(one));
  }
  return chains;
}

// Whether a commit cannot arrive at its place any more: another one stands there, or before it.
absl::StatusOr<bool> IsForked(const store::Store& database, const store::PendingCommit& first) {
  BP_ASSIGN_OR_RETURN(const facts::ChainHead arrived, database.HeadOf(first.chain));
  BP_ASSIGN_OR_RETURN(const facts::Commit commit, facts::ParseCommit(first.commit.bytes));
  return ReasonOf(facts::CheckFollows(arrived, commit)) == "CHAIN_FORK";
}

// The life after all that are taken; where a thief of the key has taken the last one that there is,
// the first one after `present` that is free.
std::uint32_t FreeLife(const std::set<std::uint32_t>& taken, std::uint32_t present) {
  if (*taken.rbegin() < std::numeric_limits<std::uint32_t>::max()) return *taken.rbegin() + 1;
  std::uint32_t free = present;
  while (taken.contains(free)) free = free == *taken.rbegin() ? 1 : free + 1;
  return free;
}

// The commit that a statement carries whole; nothing for one that carries none.
const std::string* CarriedIn(const facts::Statement& statement) {
  if (const auto* again = std::get_if<facts::Restatement>(&statement)) return &again->commit;
  if (const auto* adoption = std::get_if<facts::Adoption>(&statement)) return &adoption->commit;
  return nullptr;
}

// What a commit is stated again as. One that carries another itself passes that on: a restatement
// holds no restatement and no adoption.
facts::Statement AgainOf(const facts::Commit& commit, const facts::SignedCommit& signed_commit) {
  const facts::Statement& first = commit.statements.front();
  if (CarriedIn(first) != nullptr) return first;
  return facts::Restatement{.commit = signed_commit.bytes, .signature = signed_commit.signature};
}

// The hash that what a commit says was first written with.
Hash FirstHashOf(const facts::Commit& commit) {
  const auto* again = std::get_if<facts::Restatement>(&commit.statements.front());
  return again == nullptr ? commit.hash : Sha256(again->commit);
}

// Whether what was seen is of this log; of a place before it begins that is not known, and so said.
absl::StatusOr<bool> HasSeen(const store::Store& database, const facts::Seen& seen) {
  if (seen.arrivals > database.point().arrivals) return false;
  if (seen.arrivals <= database.base().arrivals) return true;
  BP_ASSIGN_OR_RETURN(const Hash log_hash, database.LogHashAt(seen.arrivals));
  return seen == facts::SeenOf(seen.arrivals, log_hash);
}

}  // namespace

absl::Status NumberInstall(const Home& home, device::Randomness& randomness,
                           store::Store& database) {
  const std::string number = BytesToHex(randomness.Bytes(kInstallNumberSize));
  BP_RETURN_IF_ERROR(home.WriteInstall(number));
  return database.PutMeta(kMetaInstall, number);
}

absl::Status Replica::Rep::CheckLife() {
  BP_ASSIGN_OR_RETURN(const bool one_piece, IsOfOnePiece(home, *store));
  BP_ASSIGN_OR_RETURN(noted, home.ReadLast());
  const bool restored = noted && noted->incarnation == identity.incarnation && Lacks(head, *noted);
  if (!one_piece || restored) BP_RETURN_IF_ERROR(BeginLife());
  return MendForks();
}

absl::Status Replica::Rep::BeginLife() {
  std::set<std::uint32_t> taken = {identity.incarnation};
  BP_ASSIGN_OR_RETURN(const std::vector<facts::ChainId> arrived, store->ChainsOf(chain().device));
  for (const facts::ChainId& one : arrived) taken.insert(one.incarnation);
  for (const Undelivered& one : undelivered) {
    if (one.commit.header.device == chain().device) taken.insert(one.commit.header.incarnation);
  }
  identity.incarnation = FreeLife(taken, identity.incarnation);
  head = {};
  BP_RETURN_IF_ERROR(home.WriteIdentity(identity));
  return NumberInstall(home, randomness, *store);
}

absl::StatusOr<store::PendingCommit> Replica::Rep::StateAgain(const facts::Statement& again) {
  BP_ASSIGN_OR_RETURN(const Draft draft, DraftOf(ledger->cooperative(), {again}));
  head = facts::HeadAfter(draft.commit);
  return store::PendingCommit{
      .chain = chain(),
      .seq = head.seq,
      .commit = {.bytes = draft.bytes,
                 .signature = facts::SignCommit(OwnKey(), draft.commit.hash)}};
}

absl::Status Replica::Rep::MendForks() {
  BP_ASSIGN_OR_RETURN(const auto chains, NotArrived(*store, chain().device));
  PendingCommits gone;
  for (const auto& [id, pending] : chains) {
    BP_ASSIGN_OR_RETURN(const bool forked, IsForked(*store, pending.front()));
    if (!forked) continue;
    gone.insert(gone.end(), pending.begin(), pending.end());
    if (id == chain()) BP_RETURN_IF_ERROR(BeginLife());
  }
  return StateAnew(gone);
}

absl::Status Replica::Rep::MendSeen() {
  BP_ASSIGN_OR_RETURN(const auto chains, NotArrived(*store, chain().device));
  PendingCommits gone;
  for (const auto& [id, pending] : chains) {
    const std::size_t before = gone.size();
    for (const store::PendingCommit& one : pending) {
      BP_ASSIGN_OR_RETURN(const facts::Commit commit, facts::ParseCommit(one.commit.bytes));
      BP_ASSIGN_OR_RETURN(const bool seen, HasSeen(*store, commit.header.seen));
      if (!seen || gone.size() > before) gone.push_back(one);
    }
    if (id == chain() && gone.size() > before) BP_RETURN_IF_ERROR(BeginLife());
  }
  return StateAnew(gone);
}

absl::Status Replica::Rep::StateAnew(const std::vector<store::PendingCommit>& gone) {
  if (gone.empty()) return absl::OkStatus();
  NoteVerdicts();
  PendingCommits again;
  for (const store::PendingCommit& one : gone) {
    BP_ASSIGN_OR_RETURN(const facts::Commit commit, facts::ParseCommit(one.commit.bytes));
    BP_ASSIGN_OR_RETURN(store::PendingCommit stated, StateAgain(AgainOf(commit, one.commit)));
    restated.push_back(PlaceOfNewest());
    const auto told = verdicts_told.find(FirstHashOf(commit));
    if (told != verdicts_told.end()) verdicts_before.insert_or_assign(head.hash, told->second);
    again.push_back(std::move(stated));
  }
  return ReplaceWaiting(gone, again);
}

void Replica::Rep::NoteVerdicts() {
  for (const Undelivered& one : undelivered) {
    verdicts_told.try_emplace(FirstHashOf(one.commit), one.verdict);
  }
}

absl::StatusOr<std::uint64_t> Replica::Rep::RestatedInVain() const {
  std::uint64_t in_vain = 0;
  for (const OwnPlace& one : restated) {
    const facts::ChainId life{.device = chain().device, .incarnation = one.incarnation};
    BP_ASSIGN_OR_RETURN(const std::optional<std::uint64_t> arrival,
                        store->ArrivalOf(life, one.seq));
    if (!arrival) continue;
    BP_ASSIGN_OR_RETURN(const store::StoredArrival stored, store->ReadArrival(*arrival));
    // At its place may be another one, before which it is stated again once more.
    const bool counts = stored.verdict.kind == registry::VerdictKind::kCounted;
    if (!counts && Sha256(stored.bytes) == one.hash) ++in_vain;
  }
  return in_vain;
}

absl::StatusOr<std::set<Hash>> Replica::Rep::StatedAgain() const {
  std::set<Hash> told;
  const auto note = [&](const facts::Commit& commit) {
    const std::string* carried = CarriedIn(commit.statements.front());
    if (carried != nullptr) told.insert(Sha256(*carried));
  };
  BP_ASSIGN_OR_RETURN(const std::vector<facts::ChainId> lives, store->ChainsOf(chain().device));
  for (const facts::ChainId& life : lives) {
    BP_ASSIGN_OR_RETURN(const facts::ChainHead arrived, store->HeadOf(life));
    for (std::uint64_t seq = 1; seq <= arrived.seq; ++seq) {
      BP_ASSIGN_OR_RETURN(const std::optional<std::uint64_t> arrival, store->ArrivalOf(life, seq));
      if (!arrival) continue;
      BP_ASSIGN_OR_RETURN(const store::StoredArrival stored, store->ReadArrival(*arrival));
      BP_ASSIGN_OR_RETURN(const facts::Commit commit, facts::ParseCommit(stored.bytes));
      note(commit);
    }
  }
  for (const Undelivered& one : undelivered) note(one.commit);
  return told;
}

absl::StatusOr<std::uint64_t> Replica::Rep::StateLost(
    const std::vector<facts::SignedCommit>& lost) {
  if (lost.empty()) return std::uint64_t{0};
  BP_ASSIGN_OR_RETURN(std::set<Hash> told, StatedAgain());
  PendingCommits again;
  for (const facts::SignedCommit& one : lost) {
    BP_ASSIGN_OR_RETURN(const facts::Commit commit, facts::ParseCommit(one.bytes));
    const facts::Statement statement = AgainOf(commit, one);
    if (!told.insert(Sha256(*CarriedIn(statement))).second) continue;
    if (commit.header.incarnation >= identity.incarnation) BP_RETURN_IF_ERROR(BeginLife());
    BP_ASSIGN_OR_RETURN(store::PendingCommit stated, StateAgain(statement));
    restated.push_back(PlaceOfNewest());
    again.push_back(std::move(stated));
  }
  BP_RETURN_IF_ERROR(ReplaceWaiting({}, again));
  return again.size();
}

OwnPlace Replica::Rep::PlaceOfNewest() const {
  return {.incarnation = identity.incarnation, .seq = head.seq, .hash = head.hash};
}

absl::Status Replica::Rep::NoteLast() {
  if (!key || head.seq == 0) return absl::OkStatus();
  const OwnPlace last = PlaceOfNewest();
  if (noted == last) return absl::OkStatus();
  BP_RETURN_IF_ERROR(home.WriteLast(last));
  noted = last;
  return absl::OkStatus();
}

}  // namespace broodpact::replica
