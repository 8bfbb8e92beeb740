#include "client/replica/replica.h"

#include <algorithm>
#include <filesystem>
#include <system_error>
#include <utility>

#include <fmt/format.h>

#include "client/base/check.h"
#include "client/base/status.h"
#include "client/base/text.h"
#include "client/registry/fold.h"
#include "client/replica/folding.h"
#include "client/replica/internal/folders.h"
#include "client/replica/internal/gate.h"
#include "client/replica/internal/pending.h"
#include "client/replica/internal/provisional.h"
#include "client/replica/internal/rep.h"
#include "client/store/folder_lock.h"

namespace broodpact::replica {
namespace {

absl::Status CheckRegion(const std::string& region) {
  const bool fits =
      region.empty() || (region.size() == 2 &&
                         std::ranges::all_of(region, [](char c) { return c >= 'A' && c <= 'Z'; }));
  if (fits) return absl::OkStatus();
  return Fail(
      absl::StatusCode::kInvalidArgument, "REGION_SYNTAX",
      fmt::format("region '{}' is not two capital letters, such as CZ (ISO 3166-1)", region));
}

// The verdict as the error that it is to its author.
absl::Status ErrorOf(const registry::Verdict& verdict) {
  using registry::VerdictKind;
  switch (verdict.kind) {
    case VerdictKind::kCounted:
      return absl::OkStatus();
    case VerdictKind::kVoid:
      return Fail(absl::StatusCode::kPermissionDenied, verdict.reason, verdict.message);
    case VerdictKind::kSuperseded:
      return Fail(absl::StatusCode::kAborted, verdict.reason, verdict.message);
    case VerdictKind::kRefused:
    case VerdictKind::kHeld:
      return Fail(absl::StatusCode::kFailedPrecondition, verdict.reason, verdict.message);
  }
  return Fail(absl::StatusCode::kInternal, "VERDICT_UNKNOWN", "the fold gave an unknown verdict");
}

// How long a commit of those statements may be. One that carries another whole may take the room
// that every commit leaves for that: else what lost its place could never be stated again.
std::size_t BytesMaxOf(const std::vector<facts::Statement>& statements) {
  const bool carries =
      statements.size() == 1 && (std::holds_alternative<facts::Restatement>(statements.front()) ||
                                 std::holds_alternative<facts::Adoption>(statements.front()));
  return carries ? facts::kCommitBytesMax : facts::kOwnCommitBytesMax;
}

absl::Status LostError(const Home& home) {
  return Fail(absl::StatusCode::kDataLoss, "REPLICA_MISSING",
              fmt::format("the replica of this keeper is missing from {}; put the folder back from "
                          "a backup. If there is none, begin in a fresh folder (--home) and join "
                          "there with a code of `broodpact device invite`: from another device of "
                          "yours, or from a registrar who has revoked this one",
                          home.folder().string()));
}

// A keeper without its database has lost it: a new one in its place would know no cooperative, and
// be of none.
absl::Status CheckDatabase(const Home& home, const std::filesystem::path& folder) {
  std::error_code ignored;  // the store says why a folder cannot be looked into
  if (std::filesystem::exists(folder, ignored) || ignored) return absl::OkStatus();
  return LostError(home);
}

absl::StatusOr<std::unique_ptr<store::Store>> StoreToWrite(const Home& home, store::Disk* disk) {
  BP_ASSIGN_OR_RETURN(const Gate gate, Gate::Take(home));
  BP_RETURN_IF_ERROR(FinishChange(home, disk));
  BP_RETURN_IF_ERROR(CheckDatabase(home, home.database()));
  return store::Store::Open(home.database(), store::Access::kReadWrite, disk);
}

bool IsFolded(const store::Store& database) {
  return database.folded() >= database.point().arrivals;
}

absl::StatusOr<std::unique_ptr<store::Store>> StoreToRead(const Home& home, store::Disk* disk) {
  const std::filesystem::path folder = FolderToRead(home);
  BP_RETURN_IF_ERROR(CheckDatabase(home, folder));
  BP_ASSIGN_OR_RETURN(auto database, store::Store::Open(folder, store::Access::kReadOnly, disk));
  if (IsFolded(*database)) return database;
  // Its writer folds the log again, or was cut off as it did. In the gate, so that no other writer
  // runs into the lock that tells which.
  BP_ASSIGN_OR_RETURN(const Gate gate, Gate::Take(home));
  BP_ASSIGN_OR_RETURN(const auto lock, store::FolderLock::Take(folder, disk));
  // Nobody writes now; whoever did may have finished meanwhile.
  BP_ASSIGN_OR_RETURN(database, store::Store::Open(folder, store::Access::kReadOnly, disk));
  if (IsFolded(*database)) return database;
  return Fail(absl::StatusCode::kDataLoss, "STORE_DAMAGED",
              "a rebuild was cut off; `broodpact rebuild` takes it up again");
}

absl::StatusOr<device::SecretKey> NewOrEarlierKey(const Home& home) {
  std::error_code ignored;  // what cannot be seen cannot be loaded either, and Save says so
  if (std::filesystem::exists(home.key_file(), ignored)) {
    return device::SecretKey::Load(home.key_file());  // of a start that was cut off
  }
  device::SecretKey key = device::SecretKey::Generate();
  BP_RETURN_IF_ERROR(key.Save(home.key_file()));
  return key;
}

absl::Status MakeFolder(const std::filesystem::path& folder) {
  std::error_code error;
  std::filesystem::create_directories(folder, error);
  if (!error) {
    std::filesystem::permissions(folder, std::filesystem::perms::owner_all, error);
  }
  if (!error) return absl::OkStatus();
  return Fail(absl::StatusCode::kUnavailable, "FILE_WRITE",
              fmt::format("the folder {} cannot be made: {}", folder.string(), error.message()));
}

}  // namespace

absl::Status CheckFounded(const Hash& cooperative) {
  if (cooperative != Hash{}) return absl::OkStatus();
  return Fail(
      absl::StatusCode::kFailedPrecondition, "NO_COOPERATIVE",
      "there is no cooperative yet; `broodpact found` makes one, `broodpact join` enters one");
}

absl::Status Replica::Start(const Home& home, const std::string& keeper_name,
                            const std::string& region, const Surroundings& surroundings) {
  BP_RETURN_IF_ERROR(CheckName("name of the keeper", keeper_name));
  BP_RETURN_IF_ERROR(CheckRegion(region));
  if (home.started()) {
    return Fail(absl::StatusCode::kAlreadyExists, "ALREADY_STARTED",
                fmt::format("there is a keeper in {} already; `broodpact status` says who, and "
                            "--home names another folder",
                            home.folder().string()));
  }
  BP_RETURN_IF_ERROR(MakeFolder(home.folder()));
  BP_ASSIGN_OR_RETURN(const device::SecretKey key, NewOrEarlierKey(home));
  BP_ASSIGN_OR_RETURN(
      const std::unique_ptr<store::Store> database,
      store::Store::Open(home.database(), store::Access::kReadWrite, surroundings.disk));
  BP_RETURN_IF_ERROR(NumberInstall(home, surroundings.randomness, *database));
  return home.WriteIdentity({.keeper = device::FreshId<KeeperId>(surroundings.randomness),
                             .keeper_name = keeper_name,
                             .region = region,
                             .incarnation = 1,
                             .device_key = key.public_key()});
}

absl::StatusOr<std::unique_ptr<Replica>> Replica::Open(const Home& home, store::Access access,
                                                       const Surroundings& surroundings) {
  BP_ASSIGN_OR_RETURN(auto rep, Rep::Open(home, access, surroundings));
  BP_RETURN_IF_ERROR(rep->Refold());
  if (access == store::Access::kReadWrite) {
    BP_RETURN_IF_ERROR(rep->CheckLife());
    BP_RETURN_IF_ERROR(rep->KnowSelf());
  }
  return std::unique_ptr<Replica>(new Replica(std::move(rep)));
}

absl::StatusOr<std::unique_ptr<Replica>> Replica::OpenToSync(const Home& home,
                                                             const Surroundings& surroundings) {
  BP_ASSIGN_OR_RETURN(auto rep, Rep::Open(home, store::Access::kReadWrite, surroundings));
  BP_ASSIGN_OR_RETURN(const auto verdicts, ReadProvisional(*rep->store));
  BP_RETURN_IF_ERROR(verdicts ? rep->ReadWaiting(*verdicts) : rep->Refold());
  BP_RETURN_IF_ERROR(rep->CheckLife());
  return std::unique_ptr<Replica>(new Replica(std::move(rep)));
}

absl::StatusOr<std::unique_ptr<Replica::Rep>> Replica::Rep::Open(const Home& home,
                                                                 store::Access access,
                                                                 const Surroundings& surroundings) {
  auto rep = std::make_unique<Rep>(home, surroundings);
  BP_ASSIGN_OR_RETURN(rep->identity, home.ReadIdentity());
  const bool writes = access == store::Access::kReadWrite;
  if (writes) {
    BP_RETURN_IF_ERROR(FinishRotation(home, rep->identity.device_key));
    BP_ASSIGN_OR_RETURN(device::SecretKey key, device::SecretKey::Load(home.key_file()));
    if (key.public_key() != rep->identity.device_key) {
      return Fail(absl::StatusCode::kDataLoss, "HOME_DAMAGED",
                  fmt::format("device.key in {} is not the key of this keeper; put the folder back "
                              "from a backup",
                              home.folder().string()));
    }
    rep->key = std::move(key);
  }
  if (writes) {
    BP_ASSIGN_OR_RETURN(rep->store, StoreToWrite(home, surroundings.disk));
    BP_RETURN_IF_ERROR(FoldByTheseRules(*rep->store));
  } else {
    BP_ASSIGN_OR_RETURN(rep->store, StoreToRead(home, surroundings.disk));
  }
  rep->ledger = std::make_unique<Ledger>(*rep->store);
  return rep;
}

Replica::Replica(std::unique_ptr<Rep> rep) : rep_(std::move(rep)) {}

Replica::~Replica() {
  // Where it cannot be written, a restored database is told by the server only.
  rep_->NoteLast().IgnoreError();
}

const Identity& Replica::identity() const {
  return rep_->identity;
}
const Home& Replica::home() const {
  return rep_->home;
}
const device::Clock& Replica::clock() const {
  return rep_->clock;
}
device::Randomness& Replica::randomness() const {
  return rep_->randomness;
}
const PublicKey& Replica::device_key() const {
  return rep_->identity.device_key;
}
Hash Replica::cooperative() const {
  return rep_->ledger->cooperative();
}
const registry::Layer& Replica::view() const {
  return rep_->Laid();
}
const store::Store& Replica::store() const {
  return *rep_->store;
}
const std::vector<Replica::Undelivered>& Replica::undelivered() const {
  return rep_->undelivered;
}

absl::StatusOr<Acted> Replica::Act(const std::vector<facts::Statement>& statements) {
  BP_RETURN_IF_ERROR(rep_->CheckWritable());
  BP_RETURN_IF_ERROR(rep_->CheckNotRefused());
  BP_RETURN_IF_ERROR(CheckFounded(cooperative()));
  BP_ASSIGN_OR_RETURN(const Rep::Draft draft, rep_->DraftOf(cooperative(), statements));
  BP_ASSIGN_OR_RETURN(Rep::Trial trial, rep_->FoldOnTop(draft.commit));
  BP_RETURN_IF_ERROR(ErrorOf(trial.verdict));
  return rep_->Keep(draft, std::move(trial));
}

absl::StatusOr<Acted> Replica::Try(const std::vector<facts::Statement>& statements) {
  BP_RETURN_IF_ERROR(CheckFounded(cooperative()));
  BP_ASSIGN_OR_RETURN(const Rep::Draft draft, rep_->DraftOf(cooperative(), statements));
  BP_ASSIGN_OR_RETURN(const Rep::Trial trial, rep_->FoldOnTop(draft.commit));
  BP_RETURN_IF_ERROR(ErrorOf(trial.verdict));
  return Acted{.commit = draft.commit.hash,
               .verdict = trial.verdict,
               .undelivered = rep_->undelivered.size() + 1};
}

absl::StatusOr<Acted> Replica::Found(const std::string& cooperative_name) {
  BP_RETURN_IF_ERROR(rep_->CheckWritable());
  BP_RETURN_IF_ERROR(rep_->CheckNotLost());
  if (cooperative() != Hash{}) {
    return Fail(absl::StatusCode::kFailedPrecondition, "ALREADY_MEMBER",
                "this replica belongs to a cooperative already; a second one needs a home of its "
                "own (--home)");
  }
  BP_ASSIGN_OR_RETURN(
      const Rep::Draft draft,
      rep_->DraftOf(Hash{}, {facts::Founding{.name = cooperative_name,
                                             .keeper = rep_->identity.keeper,
                                             .keeper_name = rep_->identity.keeper_name,
                                             .device_key = rep_->identity.device_key,
                                             .region = rep_->identity.region}}));
  BP_ASSIGN_OR_RETURN(Rep::Trial trial, rep_->FoldOnTop(draft.commit));
  BP_RETURN_IF_ERROR(ErrorOf(trial.verdict));
  BP_ASSIGN_OR_RETURN(const Acted acted, rep_->Keep(draft, std::move(trial)));
  BP_RETURN_IF_ERROR(rep_->ledger->SetCooperative(acted.commit));
  return acted;
}

absl::Status Replica::Rep::CheckNotLost() const {
  if (ledger->cooperative() != Hash{}) return absl::OkStatus();
  BP_ASSIGN_OR_RETURN(const std::optional<sync::Credentials> credentials, home.ReadCredentials());
  return credentials ? LostError(home) : absl::OkStatus();
}

absl::Status Replica::Rep::CheckWritable() const {
  if (key) return absl::OkStatus();
  return Fail(absl::StatusCode::kFailedPrecondition, "READ_ONLY",
              "the replica is open for reading only");
}

absl::StatusOr<Replica::Rep::Draft> Replica::Rep::DraftOf(
    const Hash& cooperative, const std::vector<facts::Statement>& statements) const {
  const facts::LogPoint point = store->point();
  const facts::CommitHeader header{.cooperative = cooperative,
                                   .device = chain().device,
                                   .incarnation = identity.incarnation,
                                   .seq = head.seq + 1,
                                   .prev = head.hash,
                                   .seen = facts::SeenOf(point.arrivals, point.log_hash),
                                   .clock_ms = clock.NowMillis()};
  Draft draft;
  draft.bytes = facts::BuildCommit(header, statements);
  const std::size_t bytes_max = BytesMaxOf(statements);
  if (draft.bytes.size() > bytes_max) {
    return Fail(absl::StatusCode::kInvalidArgument, "COMMIT_TOO_LONG",
                fmt::format("what is stated takes {} bytes, and at most {} go into one commit; "
                            "state it in several steps",
                            draft.bytes.size(), bytes_max));
  }
  BP_ASSIGN_OR_RETURN(draft.commit, facts::ParseCommit(draft.bytes));
  return draft;
}

absl::StatusOr<Replica::Rep::Trial> Replica::Rep::FoldOnTop(const facts::Commit& commit) const {
  registry::State state(Laid());
  Trial trial;
  trial.verdict =
      registry::Fold(state, {.commit = commit, .arrival = 0, .time_ms = commit.header.clock_ms});
  BP_RETURN_IF_ERROR(state.source_status());
  trial.changes = state.TakeChanges();
  return trial;
}

absl::StatusOr<Acted> Replica::Rep::Keep(const Draft& draft, Trial trial) {
  facts::SignedCommit signed_commit{.bytes = draft.bytes,
                                    .signature = facts::SignCommit(OwnKey(), draft.commit.hash)};
  undelivered.push_back(
      {.commit = draft.commit, .verdict = trial.verdict, .signed_commit = signed_commit});
  // First what is said of it, and durable with it: else a sync would take it to count plainly.
  absl::Status kept =
      PlainlyCounts(trial.verdict) ? absl::OkStatus() : KeepProvisional(*store, undelivered);
  if (kept.ok()) {
    kept = store->AppendPending(
        {{.chain = chain(), .seq = draft.commit.header.seq, .commit = std::move(signed_commit)}});
  }
  if (!kept.ok()) {
    undelivered.pop_back();
    return kept;
  }
  BP_CHECK(overlay.has_value());
  overlay->Lay(std::move(trial.changes));
  head = facts::HeadAfter(draft.commit);
  return Acted{.commit = draft.commit.hash,
               .verdict = std::move(trial.verdict),
               .undelivered = undelivered.size()};
}

}  // namespace broodpact::replica
