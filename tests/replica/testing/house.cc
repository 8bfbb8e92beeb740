#include "tests/replica/testing/house.h"

#include <utility>

#include "client/base/status.h"
#include "client/registry/fold.h"
#include "client/replica/vouchers.h"
#include "client/store/state_digest.h"
#include "client/store/state_root.h"
#include "client/sync/invite_code.h"
#include "tests/replica/testing/demand.h"

namespace broodpact::testing {
namespace {

constexpr char kPem[] = "-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n";
constexpr std::size_t kTrialPartBytes = 3'000;

// Collects entries into parts of some size.
class Parts {
 public:
  Parts(TrialSnapshot& snapshot, sync::PartKind kind) : snapshot_(snapshot), kind_(kind) {}
  ~Parts() { End(); }

  void Add(std::string_view key, std::string_view value) {
    sync::AppendEntry(part_, key, value);
    if (part_.size() > kTrialPartBytes) End();
  }
  void Add(std::string part) {
    part_ = std::move(part);
    End();
  }

 private:
  void End() {
    if (part_.empty()) return;
    const std::string packed = sync::PackPart(part_);
    snapshot_.manifest.parts.push_back(
        {.kind = kind_, .packed_bytes = packed.size(), .sha256 = Sha256(packed)});
    snapshot_.parts.push_back(std::exchange(part_, {}));
  }

  TrialSnapshot& snapshot_;
  sync::PartKind kind_;
  std::string part_;
};

// The server's snapshots, by a function call.
class HouseSnapshots final : public sync::Snapshots {
 public:
  HouseSnapshots(House& house, DeviceId caller) : house_(house), caller_(caller) {}

  absl::StatusOr<sync::SnapshotOffer> Offer(std::uint64_t arrivals) override {
    if (!house_.snapshot) {
      return Fail(absl::StatusCode::kNotFound, "SNAPSHOT_NONE", "none");
    }
    const sync::SnapshotManifest& manifest = house_.snapshot->manifest;
    if (arrivals != 0 && manifest.point.arrivals != arrivals) {
      return Fail(absl::StatusCode::kNotFound, "SNAPSHOT_GONE", "gone");
    }
    sync::SnapshotOffer offer{.manifest = manifest,
                              .head = head_at(manifest.point.arrivals),
                              .attestations = house_.snapshot->attestations};
    return offer;
  }

  absl::StatusOr<std::string> Fetch(const sync::SnapshotManifest&, std::uint32_t part) override {
    return house_.snapshot->parts.at(part);
  }

  absl::Status Attest(std::uint64_t, const Hash&, const Signature& signature) override {
    house_.snapshot->attestations.push_back({.device = caller_, .signature = signature});
    return absl::OkStatus();
  }

  std::function<sync::Head(std::uint64_t)> head_at;

 private:
  House& house_;
  DeviceId caller_;
};

}  // namespace

TrialSnapshot SnapshotOf(const store::Store& database, const Hash& cooperative) {
  const auto pinned = database.Pin();
  const store::StateAt state = Demand(store::StateOf(*pinned, cooperative));
  TrialSnapshot snapshot;
  snapshot.manifest = {.cooperative = cooperative,
                       .point = pinned->point(),
                       .tree = pinned->tree(),
                       .fold_version = registry::kFoldVersion,
                       .state_digest = state.state_digest,
                       .heads_digest = state.heads_digest,
                       .parts = {}};
  replica::VoucherPicker picker;
  Demand(database.VisitArrivals(1, pinned->point().arrivals,
                                [&](std::uint64_t arrival, const store::StoredArrival& stored) {
                                  return picker.Add(arrival, stored);
                                }));
  for (std::string& part : std::move(picker).TakeParts()) {
    Parts(snapshot, sync::PartKind::kVouchers).Add(std::move(part));
  }
  {
    Parts heads(snapshot, sync::PartKind::kHeads);
    Demand(pinned->VisitHeads([&](std::string_view key, std::string_view value) {
      heads.Add(key, value);
      return absl::OkStatus();
    }));
  }
  Parts subjects(snapshot, sync::PartKind::kState);
  Demand(pinned->VisitSubjects([&](std::string_view key, std::string_view value) {
    subjects.Add(key, value);
    return absl::OkStatus();
  }));
  return snapshot;
}

// The way of one keeper's replica to the server.
class HouseNetwork final : public sync::Network {
 public:
  HouseNetwork(House& house, replica::Home home) : house_(house), home_(std::move(home)) {}

  absl::StatusOr<std::string> FetchAuthority(const std::string&, const Hash&) override {
    return std::string(kPem);
  }
  absl::StatusOr<std::string> Claim(const sync::Credentials&, const std::string&,
                                    const facts::SignedCommit& founding,
                                    const PublicKey&) override {
    Demand(house_.ledger_->SetCooperative(Sha256(founding.bytes)));
    house_.Arrive({founding});
    return std::string(kPem);
  }
  absl::StatusOr<sync::TakenOver> TakeOver(const sync::Credentials&, const sync::Takeover&,
                                           const PublicKey&, const Signer&) override {
    return absl::UnimplementedError("no such service");
  }
  absl::StatusOr<std::string> Join(const sync::Credentials&, const Hash&,
                                   const facts::SignedCommit& joining, const PublicKey&,
                                   const Signer&) override {
    house_.Arrive({joining});
    if (house_.on_joined) house_.on_joined();
    return std::string(kPem);
  }
  absl::StatusOr<std::string> JoinAgain(const sync::Credentials& credentials,
                                        const sync::Reentry& reentry, const PublicKey& tls_key,
                                        const Signer& device) override {
    return Join(credentials, reentry.cooperative, reentry.joining, tls_key, device);
  }
  absl::StatusOr<std::string> Renew(const sync::Credentials&, const Signer&, const PublicKey&,
                                    const std::vector<facts::SignedCommit>&) override {
    return std::string(kPem);
  }
  absl::StatusOr<sync::Head> FetchHead(const sync::Credentials&, const Hash&,
                                       std::int64_t) override {
    return house_.HeadAt(house_.server().point().arrivals);
  }
  absl::StatusOr<std::unique_ptr<sync::Recovery>> OpenRecovery(const sync::Credentials&,
                                                               const Hash&, std::int64_t) override {
    return house_.OpenRecovery();
  }
  absl::StatusOr<std::unique_ptr<sync::Snapshots>> OpenSnapshots(const sync::Credentials&,
                                                                 const Hash&,
                                                                 std::int64_t) override {
    auto snapshots = std::make_unique<HouseSnapshots>(house_, Caller());
    snapshots->head_at = [this](std::uint64_t arrivals) { return house_.HeadAt(arrivals); };
    return snapshots;
  }

  absl::StatusOr<sync::Progress> RunSession(const sync::Credentials&, sync::Target& target,
                                            const sync::Options&) override {
    BP_RETURN_IF_ERROR(CheckPlace(target.point()));
    if (!house_.tells_losses_last) BP_RETURN_IF_ERROR(target.HearEpochs(house_.epochs_));
    const bool owns_up = target.point().arrivals > 0 || !house_.owned_up_to;
    BP_RETURN_IF_ERROR(target.HearHead(
        house_.HeadAt(owns_up ? house_.server().point().arrivals : *house_.owned_up_to)));
    if (house_.forks_at) BP_RETURN_IF_ERROR(target.HearHead(house_.OtherHeadAt(*house_.forks_at)));
    if (house_.snapshot) {
      BP_RETURN_IF_ERROR(target.HearSnapshot(house_.snapshot->manifest.point));
    }
    sync::Progress progress;
    BP_RETURN_IF_ERROR(Push(target, progress));
    BP_RETURN_IF_ERROR(Pull(target, progress));
    const std::uint64_t arrivals = house_.server().point().arrivals;
    if (arrivals > 0) BP_RETURN_IF_ERROR(target.KeepHead(house_.HeadAt(arrivals)));
    progress.arrivals = progress.arrivals_server = arrivals;
    return progress;
  }

 private:
  DeviceId Caller() const { return DeviceOf(Demand(home_.ReadIdentity()).device_key); }

  absl::Status CheckPlace(const facts::LogPoint& place) const {
    const auto log_hash = house_.server().LogHashAt(place.arrivals);
    if (place.arrivals == 0 || (log_hash.ok() && *log_hash == place.log_hash)) {
      return absl::OkStatus();
    }
    return Fail(absl::StatusCode::kDataLoss, "LOG_OTHER", "another log");
  }

  absl::Status Push(sync::Target& target, sync::Progress& progress) {
    const facts::ChainId chain{.device = target.device().value_or(Caller()),
                               .incarnation = target.incarnation()};
    while (true) {
      BP_ASSIGN_OR_RETURN(const facts::ChainHead head, house_.server().HeadOf(chain));
      BP_ASSIGN_OR_RETURN(const std::vector<facts::SignedCommit> run, target.Undelivered(head));
      if (run.empty()) return absl::OkStatus();
      if (house_.door) BP_RETURN_IF_ERROR(house_.door(run));
      house_.Arrive(run);
      progress.commits_sent += run.size();
    }
  }

  absl::Status Pull(sync::Target& target, sync::Progress& progress) {
    facts::LogPoint place = target.point();
    while (place.arrivals < house_.server().point().arrivals) {
      if (house_.ranges_left && --*house_.ranges_left < 0) {
        if (house_.tells_losses_last) BP_RETURN_IF_ERROR(target.HearEpochs(house_.epochs_));
        return Fail(absl::StatusCode::kUnavailable, "SERVER_AWAY", "the server is away");
      }
      BP_ASSIGN_OR_RETURN(const store::LogSlice slice,
                          house_.server().ReadLog(place.arrivals, house_.slice_bytes));
      facts::Range range{.before = place, .after = place};
      BP_RETURN_IF_ERROR(facts::ReadOnto(range, slice.records));
      place = range.after;
      progress.commits_received += range.arrivals.size();
      BP_RETURN_IF_ERROR(target.Apply(std::move(range)));
    }
    return absl::OkStatus();
  }

  House& house_;
  replica::Home home_;
};

House::House() : log_key_(device::SecretKey::OfSeed(std::string(32, 'l'))) {
  server_ = Demand(store::Store::Open(folder_.path() / "server", store::Access::kReadWrite));
  ledger_ = std::make_unique<replica::Ledger>(*server_);
}

House::~House() = default;

replica::Surroundings House::SurroundingsOf(const std::string& keeper) {
  std::unique_ptr<sync::Network>& network = networks_[keeper];
  if (!network) network = std::make_unique<HouseNetwork>(*this, HomeOf(keeper));
  return {.clock = clock_, .randomness = randomness_, .network = *network};
}

void House::Found(const std::string& keeper) {
  founder_ = keeper;
  Demand(replica::Replica::Start(HomeOf(keeper), keeper, "", SurroundingsOf(keeper)));
  Demand(At(keeper).Found("cellar").status());
  Demand(At(keeper).Join(sync::BuildInviteCode({.cooperative = {},
                                                .authority = {},
                                                .secret = std::string(sync::kSecretSize, 's'),
                                                .address = "house:1"})));
}

void House::Enter(const std::string& keeper, const replica::JoinOptions& options) {
  Demand(replica::Replica::Start(HomeOf(keeper), keeper, "", SurroundingsOf(keeper)));
  const std::string code = Demand(At(founder_).Invite(facts::Role::kKeeper, keeper));
  Demand(Sync(founder_).status());
  Demand(At(keeper).Join(code, options));
}

replica::Replica& House::At(const std::string& keeper) {
  std::unique_ptr<replica::Replica>& replica = open_[keeper];
  if (!replica) {
    replica = Demand(
        replica::Replica::Open(HomeOf(keeper), store::Access::kReadWrite, SurroundingsOf(keeper)));
  }
  return *replica;
}

replica::Replica& House::OpenToSync(const std::string& keeper) {
  std::unique_ptr<replica::Replica>& replica = open_[keeper];
  replica = Demand(replica::Replica::OpenToSync(HomeOf(keeper), SurroundingsOf(keeper)));
  return *replica;
}

void House::Close(const std::string& keeper) {
  open_.erase(keeper);
}

absl::StatusOr<replica::Synced> House::Sync(const std::string& keeper) {
  return At(keeper).Sync({});
}

absl::StatusOr<replica::FilledHistory> House::Fill(const std::string& keeper) {
  return At(keeper).FillHistory({});
}

void House::AddGroups(const std::string& keeper, int count) {
  for (int i = 0; i < count; ++i) {
    Demand(At(keeper)
               .Act({facts::GroupEntry{.group = device::FreshId<GroupId>(randomness_),
                                       .name = "group " + std::to_string(++groups_),
                                       .taxon = "Brachypelma hamorii"}})
               .status());
  }
  Demand(Sync(keeper).status());
}

void House::TakeSnapshot() {
  snapshot = SnapshotOf(*server_, cooperative());
}

Hash House::cooperative() const {
  return ledger_->cooperative();
}

void House::Arrive(const std::vector<facts::SignedCommit>& run) {
  std::string records;
  for (const facts::SignedCommit& commit : run) {
    const bool ends = &commit == &run.back();
    facts::AppendArrival(
        records, {.commit = commit.bytes,
                  .time_ms = clock_.NowMillis(),
                  .signature = ends ? std::optional<Signature>(commit.signature) : std::nullopt});
  }
  Append(records);
}

void House::Append(std::string_view records) {
  facts::Range range{.before = server_->point(), .after = server_->point()};
  Demand(facts::ReadOnto(range, records));
  Demand(ledger_->Append(range, std::nullopt, store::Durability::kSynced).status());
}

sync::Head House::HeadAt(std::uint64_t arrivals) const {
  facts::HeadClaim claim{.epoch = epochs_.empty() ? facts::kFirstEpoch : epochs_.back().epoch,
                         .point = {.arrivals = arrivals, .log_hash = {}},
                         .tree_root = {},
                         .time_ms = clock_.NowMillis()};
  claim.point.log_hash = Demand(server_->LogHashAt(arrivals));
  claim.tree_root = Demand(server_->TreeRootAt(arrivals));
  return sync::SignHead(log_key_, cooperative(), claim);
}

sync::Head House::OtherHeadAt(std::uint64_t arrivals) const {
  facts::HeadClaim claim = HeadAt(arrivals);
  claim.point.log_hash = claim.tree_root = Sha256("another");
  return sync::SignHead(log_key_, cooperative(), claim);
}

}  // namespace broodpact::testing
