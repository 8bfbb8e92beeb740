// Goal: a replica that starts from a snapshot is what it would be had it folded the whole log; what
// is not attested, or not what is attested, is not started from; the history that comes later takes
// its place without losing anything, and tells where the snapshot was wrong. Method: real replicas
// and a log behind function calls; snapshots spoilt one thing at a time; the change of folders cut
// off at every step.

#include <chrono>
#include <filesystem>
#include <fstream>
#include <optional>
#include <thread>

#include <gmock/gmock.h>

#include "client/base/status.h"
#include "client/replica/acts_member.h"
#include "client/replica/internal/folders.h"
#include "client/replica/internal/gate.h"
#include "client/replica/internal/history.h"
#include "client/replica/internal/known_log.h"
#include "client/replica/snapshot_root.h"
#include "client/store/state_digest.h"
#include "client/store/store.h"
#include "tests/replica/testing/demand.h"
#include "tests/replica/testing/house.h"

namespace broodpact::replica {
namespace {

using ::testing::Contains;
using testing::Demand;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using testing::House;
using ::testing::IsEmpty;
using ::testing::SizeIs;
using testing::SnapshotOf;
using testing::TrialSnapshot;

class SnapshotTest : public ::testing::Test {
 protected:
  // Four keepers, who all attest the snapshot: one as the last who wrote before it, the others as
  // they come past its place.
  SnapshotTest() {
    house_.Found("mira");
    for (const char* const name : {"tomas", "iva", "bela"}) house_.Enter(name);
    house_.AddGroups("mira", 40);
    house_.TakeSnapshot();
    house_.AddGroups("mira", 25);
    for (const char* const name : {"tomas", "iva", "bela"}) {
      EXPECT_TRUE(house_.Sync(name).ok());
    }
  }

  JoinOptions Told() {
    JoinOptions options;
    options.tell = [this](const std::string& note) { notes_.push_back(note); };
    return options;
  }

  void EnterDana() { house_.Enter("dana", Told()); }
  std::uint64_t BaseOfDana() { return house_.At("dana").store().base().arrivals; }
  std::uint64_t Place() const { return house_.snapshot->manifest.point.arrivals; }

  // Takes a snapshot that mira is past before she hears of it.
  void TakeSnapshotBehindMira() {
    house_.TakeSnapshot();
    std::optional<TrialSnapshot> taken = std::exchange(house_.snapshot, std::nullopt);
    house_.AddGroups("mira", 1);
    house_.snapshot = std::move(taken);
  }

  // Gives the snapshot anew the attestations of those devices, whatever it is of.
  void AttestAnew(const std::vector<std::string>& names = {"tomas", "iva", "bela"}) {
    house_.snapshot->attestations.clear();
    for (const std::string& name : names) {
      const auto key = device::SecretKey::Load(house_.HomeOf(name).key_file());
      ASSERT_TRUE(key.ok());
      house_.snapshot->attestations.push_back(
          {.device = DeviceOf(key->public_key()),
           .signature = key->Sign(sync::AttestationMessage(house_.cooperative(),
                                                           house_.snapshot->manifest.point,
                                                           RootOf(house_.snapshot->manifest)))});
    }
  }

  void RevokeBela() {
    const DeviceId device = DeviceOf(house_.At("bela").device_key());
    ASSERT_TRUE(house_.Sync("mira").ok());
    ASSERT_TRUE(RevokeDevice(house_.At("mira"), {.device = device, .reason = "lost"}).ok());
    ASSERT_TRUE(house_.Sync("mira").ok());
  }

  // A snapshot in whose state bela's device is cut off, and whose vouchers do not say so.
  void HideRevocationOfBela() {
    const std::vector<std::string> before = house_.snapshot->parts;
    const auto parts_before = house_.snapshot->manifest.parts;
    RevokeBela();
    TakeSnapshotBehindMira();
    ASSERT_EQ(house_.snapshot->manifest.parts.front().kind, sync::PartKind::kVouchers);
    house_.snapshot->parts.front() = before.front();
    house_.snapshot->manifest.parts.front() = parts_before.front();
  }

  // Dana enters, and hears a head of more than what the server is then put back to. Returns how
  // many arrivals that leaves.
  std::uint64_t LoseWhatDanaHeard() {
    EnterDana();
    const std::uint64_t kept = house_.server().point().arrivals;
    house_.AddGroups("mira", 5);
    EXPECT_TRUE(house_.Sync("dana").ok());
    house_.Lose(kept);
    return kept;
  }

  // The database of dana's replica, which is closed.
  std::unique_ptr<store::Store> DatabaseOfDana() {
    house_.Close("dana");
    return Demand(store::Store::Open(house_.HomeOf("dana").database(), store::Access::kReadWrite));
  }

  // Dana has what the server has, to the byte, and it holds.
  void ExpectWhole() {
    EXPECT_EQ(*house_.At("dana").store().StateDigest(), *house_.server().StateDigest());
    const auto verified = house_.At("dana").Verify();
    ASSERT_TRUE(verified.ok()) << verified.status();
    EXPECT_THAT(verified->faults, IsEmpty());
    EXPECT_EQ(verified->point, house_.server().point());
  }

  House house_;
  std::vector<std::string> notes_;
};

TEST_F(SnapshotTest, IsAttestedByDevicesThatFoldedTheLogToTheSameState) {
  EXPECT_EQ(house_.snapshot->attestations.size(), 4U);
  ASSERT_TRUE(house_.Sync("tomas").ok());  // once is enough
  EXPECT_EQ(house_.snapshot->attestations.size(), 4U);
}

TEST_F(SnapshotTest, IsNotAttestedByADeviceThatWasPastItBefore) {
  TakeSnapshotBehindMira();
  house_.AddGroups("mira", 1);
  EXPECT_THAT(house_.snapshot->attestations, IsEmpty());
}

TEST_F(SnapshotTest, WithTheTailIsTheStateOfTheWholeLog) {
  EnterDana();
  EXPECT_EQ(BaseOfDana(), Place());
  EXPECT_THAT(notes_, ElementsAre(HasSubstr("by the word of mira, tomas, iva and bela")));
  EXPECT_EQ(house_.At("dana").store().point(), house_.server().point());
  EXPECT_EQ(*house_.At("dana").store().StateDigest(), *house_.server().StateDigest());
  EXPECT_THAT(*house_.At("dana").store().CheckDisk(), IsEmpty());
  EXPECT_THAT(house_.At("dana").undelivered(), IsEmpty());
}

TEST_F(SnapshotTest, IsNotNeeded) {
  JoinOptions whole = Told();
  whole.first = FirstSync::kWhole;
  house_.Enter("dana", whole);
  EXPECT_EQ(BaseOfDana(), 0U);
  ExpectWhole();
}

TEST_F(SnapshotTest, LetsANewcomerActAtOnceAndDeliver) {
  EnterDana();
  house_.AddGroups("dana", 3);
  EXPECT_EQ(house_.server().point(), house_.At("dana").store().point());
  EXPECT_EQ(*house_.At("dana").store().StateDigest(), *house_.server().StateDigest());
}

TEST_F(SnapshotTest, ThatHasTheNewcomersOwnEntryInItLeavesNothingWaiting) {
  house_.on_joined = [this] {
    house_.TakeSnapshot();
    AttestAnew();
  };
  EnterDana();
  EXPECT_EQ(BaseOfDana(), house_.server().point().arrivals);
  EXPECT_THAT(house_.At("dana").undelivered(), IsEmpty());
  house_.AddGroups("dana", 1);
  EXPECT_THAT(house_.At("dana").undelivered(), IsEmpty());
  EXPECT_EQ(*house_.At("dana").store().StateDigest(), *house_.server().StateDigest());
  ASSERT_TRUE(house_.Fill("dana").ok());
  ExpectWhole();
}

TEST_F(SnapshotTest, OfWhichTheHistoryIsMissingSaysSoWhereItIsAskedFor) {
  EnterDana();
  Replica& dana = house_.At("dana");
  EXPECT_EQ(ReasonOf(dana.Verify().status()), "HISTORY_MISSING");
  EXPECT_EQ(ReasonOf(dana.Rebuild().status()), "HISTORY_MISSING");
  EXPECT_EQ(ReasonOf(dana.store().ReadArrival(1).status()), "HISTORY_MISSING");
  const auto history = dana.History();
  ASSERT_TRUE(history.ok() && history->has_value());
  EXPECT_EQ((*history)->base.arrivals, Place());
  EXPECT_EQ((*history)->checked, 0U);
  EXPECT_THAT((*history)->attested_by, ElementsAre("mira", "tomas", "iva", "bela"));
}

TEST_F(SnapshotTest, IsNotStartedFromWhereTooFewKeepersAttestIt) {
  house_.snapshot->attestations.resize(2);
  house_.snapshot->attestations.push_back(house_.snapshot->attestations.front());  // no third
  EnterDana();
  EXPECT_EQ(BaseOfDana(), 0U);
  EXPECT_THAT(notes_, ElementsAre(HasSubstr("2 of the 3 keepers")));
  ExpectWhole();
}

TEST_F(SnapshotTest, DoesNotCountTheWordOfADeviceThatWasCutOff) {
  RevokeBela();
  TakeSnapshotBehindMira();
  AttestAnew();
  EnterDana();
  EXPECT_EQ(BaseOfDana(), 0U);
  EXPECT_THAT(notes_, ElementsAre(HasSubstr("2 of the 3 keepers")));
}

TEST_F(SnapshotTest, ThatLeavesARevocationOutOfItsVouchersIsNotStartedFrom) {
  HideRevocationOfBela();
  AttestAnew({"tomas", "iva", "bela"});
  EnterDana();
  EXPECT_EQ(BaseOfDana(), 0U);
  ExpectWhole();
}

TEST_F(SnapshotTest, StandsByTheWordOfThoseAloneWhoAreNotCutOffInItsState) {
  HideRevocationOfBela();
  AttestAnew({"tomas", "iva", "bela", "mira"});
  EnterDana();
  EXPECT_EQ(BaseOfDana(), Place());
  const auto history = house_.At("dana").History();
  ASSERT_TRUE(history.ok() && history->has_value());
  EXPECT_THAT((*history)->attested_by, ElementsAre("tomas", "iva", "mira"));
}

// What is wrong with a snapshot, and what is said of it.
struct Spoilt {
  const char* name;
  std::function<void(TrialSnapshot&)> spoil;
};

class SpoiltSnapshotTest : public SnapshotTest, public ::testing::WithParamInterface<Spoilt> {};

std::size_t FirstOf(const TrialSnapshot& snapshot, sync::PartKind kind) {
  for (std::size_t i = 0; i < snapshot.parts.size(); ++i) {
    if (snapshot.manifest.parts[i].kind == kind) return i;
  }
  ADD_FAILURE();
  return 0;
}

TEST_P(SpoiltSnapshotTest, IsToldAndTheWholeLogIsFetchedInstead) {
  GetParam().spoil(*house_.snapshot);
  EnterDana();
  EXPECT_EQ(BaseOfDana(), 0U);
  EXPECT_THAT(notes_, ElementsAre(HasSubstr("warning: ")));
  ExpectWhole();
}

INSTANTIATE_TEST_SUITE_P(
    Snapshot, SpoiltSnapshotTest,
    ::testing::Values(
        Spoilt{"AByteOfASubject",
               [](TrialSnapshot& snapshot) {
                 snapshot.parts[FirstOf(snapshot, sync::PartKind::kState)].back() ^= 1;
               }},
        Spoilt{"APartThatIsMissing",
               [](TrialSnapshot& snapshot) {
                 const std::size_t part = FirstOf(snapshot, sync::PartKind::kState);
                 snapshot.parts.erase(snapshot.parts.begin() + static_cast<std::ptrdiff_t>(part));
                 snapshot.manifest.parts.erase(snapshot.manifest.parts.begin() +
                                               static_cast<std::ptrdiff_t>(part));
               }},
        Spoilt{"AHeadOfAChain",
               [](TrialSnapshot& snapshot) {
                 snapshot.parts[FirstOf(snapshot, sync::PartKind::kHeads)].back() ^= 1;
               }},
        Spoilt{"ATreeThatTheServerHasNotSigned",
               [](TrialSnapshot& snapshot) {
                 MerkleFrontier other;
                 while (other.size() < snapshot.manifest.point.arrivals) {
                   ASSERT_TRUE(other.Append(Hash{1}).ok());
                 }
                 snapshot.manifest.tree = other;
               }},
        Spoilt{"AVoucherThatNobodySigned",
               [](TrialSnapshot& snapshot) {
                 snapshot.parts[FirstOf(snapshot, sync::PartKind::kVouchers)].back() ^= 1;
               }}),
    [](const auto& spoilt) { return std::string(spoilt.param.name); });

TEST_F(SnapshotTest, IsCheckedByTheHistoryWhichTakesItsPlace) {
  EnterDana();
  const auto filled = house_.Fill("dana");
  ASSERT_TRUE(filled.ok()) << filled.status();
  EXPECT_FALSE(filled->fault.has_value());
  EXPECT_EQ(filled->arrivals, house_.server().point().arrivals);
  EXPECT_EQ(BaseOfDana(), 0U);
  EXPECT_FALSE(std::filesystem::exists(house_.HomeOf("dana").history()));
  EXPECT_FALSE(std::filesystem::exists(house_.HomeOf("dana").database_before()));
  ExpectWhole();
  // It has folded the log to the snapshot's place by now, so its word counts as well.
  ASSERT_TRUE(house_.Sync("dana").ok());
  EXPECT_EQ(house_.snapshot->attestations.size(), 5U);
}

TEST_F(SnapshotTest, GoesOnWithTheHistoryWhereItWasCutOff) {
  EnterDana();
  house_.ranges_left = 3;
  EXPECT_EQ(ReasonOf(house_.Fill("dana").status()), "SERVER_AWAY");
  const std::uint64_t checked = (*house_.At("dana").History())->checked;
  EXPECT_GT(checked, 0U);
  EXPECT_LT(checked, house_.server().point().arrivals);
  house_.Close("dana");
  house_.ranges_left.reset();
  ASSERT_TRUE(house_.Fill("dana").ok());
  ExpectWhole();
}

TEST_F(SnapshotTest, BeginsTheHistoryAnewWhereItWasCutOffAsItWasMade) {
  EnterDana();
  const std::filesystem::path half = house_.HomeOf("dana").history() / "db";
  std::filesystem::create_directories(half);
  std::ofstream(half / "MANIFEST-000001") << "no more than that";
  ASSERT_TRUE(house_.Fill("dana").ok());
  ExpectWhole();
}

TEST_F(SnapshotTest, KeepsWhatWaitsToBeDelivered) {
  EnterDana();
  ASSERT_TRUE(house_.At("dana")
                  .Act({facts::GroupEntry{
                      .group = GroupId{{9}}, .name = "mine", .taxon = "Poecilotheria metallica"}})
                  .ok());
  ASSERT_TRUE(house_.Fill("dana").ok());
  EXPECT_EQ(house_.At("dana").undelivered().size(), 1U);
  house_.Close("dana");
  EXPECT_EQ(house_.At("dana").identity().incarnation, 1U);  // no copy of anything
  ASSERT_TRUE(house_.Sync("dana").ok());
  EXPECT_THAT(house_.At("dana").undelivered(), IsEmpty());
  ExpectWhole();
}

// The server loses a part of the log from before the snapshot on, and the only others who had what
// came after it are gone.
TEST_F(SnapshotTest, CarriesWhatNobodyElseHasAnyMoreAfterALoss) {
  const std::uint64_t before = house_.server().point().arrivals;
  house_.AddGroups("mira", 2);
  house_.TakeSnapshot();
  AttestAnew();
  const facts::ChainId tomas{.device = DeviceOf(house_.At("tomas").device_key())};
  // After mira, who invites, has synced for the last time.
  house_.on_joined = [&] { house_.AddGroups("tomas", 1); };
  EnterDana();
  const facts::ChainHead last = Demand(house_.server().HeadOf(tomas));
  ASSERT_GT(BaseOfDana(), before);
  house_.Close("tomas");
  house_.Lose(before);
  house_.snapshot.reset();
  for (int i = 0; i < 2; ++i) ASSERT_TRUE(house_.Sync("mira").ok());
  house_.AddGroups("mira", 1);
  ASSERT_NE(Demand(house_.server().HeadOf(tomas)), last);

  for (int i = 0; i < 2; ++i) {
    const auto synced = house_.Sync("dana");
    ASSERT_TRUE(synced.ok()) << synced.status();
  }
  EXPECT_EQ(Demand(house_.server().HeadOf(tomas)), last);
  EXPECT_THAT(house_.At("dana").undelivered(), IsEmpty());
  EXPECT_THAT(*house_.At("dana").Doubts(), IsEmpty());
  ExpectWhole();
}

TEST_F(SnapshotTest, GivesBackWhatTheServerLostBeforeTheHistoryIsFetched) {
  const std::uint64_t kept = LoseWhatDanaHeard();
  house_.takes_back = true;
  const auto filled = house_.Fill("dana");
  ASSERT_TRUE(filled.ok()) << filled.status();
  EXPECT_THAT(*house_.At("dana").Doubts(), IsEmpty());
  EXPECT_EQ(house_.server().point().arrivals, kept + 5);
  const std::optional<Repair> untold = Demand(house_.At("dana").UntoldRepair());
  EXPECT_EQ(untold.value_or(Repair{}).given_back, 5U);
  ExpectWhole();
}

TEST_F(SnapshotTest, LetsTheServerAdmitALossBeforeTheHistoryIsFetched) {
  LoseWhatDanaHeard();
  const auto filled = house_.Fill("dana");
  ASSERT_TRUE(filled.ok()) << filled.status();
  EXPECT_THAT(*house_.At("dana").Doubts(), IsEmpty());
  for (const char* const name : {"mira", "mira", "dana"}) ASSERT_TRUE(house_.Sync(name).ok());
  EXPECT_THAT(house_.At("dana").undelivered(), IsEmpty());
  ExpectWhole();
}

TEST_F(SnapshotTest, HoldsAServerToItsHeadThatAdmitsNothingWhenTheHistoryIsFetched) {
  LoseWhatDanaHeard();
  house_.answer_to_loss = Fail(absl::StatusCode::kInvalidArgument, "HEAD_OTHER", "none of mine");
  EXPECT_TRUE(absl::IsDataLoss(house_.Fill("dana").status()));
  EXPECT_THAT(*house_.At("dana").Doubts(), SizeIs(1));
}

// It owns up to all of its log towards whoever has it, and to less towards a newcomer.
TEST_F(SnapshotTest, HoldsAServerToItsHeadThatTellsTheHistoryOtherwiseThanTheLog) {
  EnterDana();
  house_.owned_up_to = Place();
  EXPECT_EQ(ReasonOf(house_.Fill("dana").status()), "LOG_SHRUNK");
  EXPECT_THAT(*house_.At("dana").Doubts(), SizeIs(1));
}

TEST_F(SnapshotTest, KeepsWhatTheServerHasPromisedWhenTheHistoryTakesItsPlace) {
  EnterDana();
  const std::uint64_t kept = house_.server().point().arrivals;
  house_.AddGroups("mira", 3);
  house_.ranges_left = 0;
  ASSERT_EQ(ReasonOf(house_.Sync("dana").status()), "SERVER_AWAY");
  house_.ranges_left.reset();
  house_.Lose(kept);
  house_.answer_to_loss = Fail(absl::StatusCode::kInvalidArgument, "HEAD_OTHER", "none of mine");
  ASSERT_TRUE(house_.Fill("dana").ok());
  EXPECT_EQ(ReasonOf(house_.Sync("dana").status()), "LOG_SHRUNK");
}

TEST_F(SnapshotTest, KeepsTheCodesThatLedToServersWhenTheHistoryTakesItsPlace) {
  EnterDana();
  Demand(KeepServerCode(*DatabaseOfDana(),
                        {.cooperative = house_.cooperative(), .address = "house:2"}));
  const std::vector<std::string> codes = Demand(house_.At("dana").ServerCodes());
  ASSERT_THAT(codes, SizeIs(1));
  ASSERT_TRUE(house_.Fill("dana").ok());
  EXPECT_EQ(Demand(house_.At("dana").ServerCodes()), codes);
}

// She doubted the server before it said that it had lost something, and only her history was told.
TEST_F(SnapshotTest, KeepsNoDoubtThatTheHistoryExplains) {
  const std::uint64_t kept = LoseWhatDanaHeard();
  const std::optional<sync::Head> heard = Demand(house_.At("dana").LastHead());
  ASSERT_TRUE(heard.has_value());
  sync::Head told = *heard;
  told.point.arrivals = kept;
  Demand(KeepDoubt(*DatabaseOfDana(), ShrunkLog(*heard, told)));
  for (int i = 0; i < 2; ++i) ASSERT_TRUE(house_.Sync("mira").ok());
  ASSERT_TRUE(house_.Fill("dana").ok());
  EXPECT_THAT(*house_.At("dana").Doubts(), IsEmpty());
}

TEST_F(SnapshotTest, OfAnotherStateIsFoundOutAndItsWitnessesAreNamed) {
  // Three colluding keepers attest a state in which a group has another name.
  TrialSnapshot& snapshot = *house_.snapshot;
  store::StateHasher hasher;
  bool changed = false;
  for (std::size_t i = 0; i < snapshot.parts.size(); ++i) {
    if (snapshot.manifest.parts[i].kind != sync::PartKind::kState) continue;
    const std::string part = snapshot.parts[i];
    const auto entries = sync::ReadEntries(part, registry::kSubjectKeySize);
    ASSERT_TRUE(entries.ok());
    snapshot.parts[i].clear();
    for (const auto& [key, value] : *entries) {
      std::string stored(value);
      auto group = registry::Decode<registry::Group>(value);
      if (key.front() == static_cast<char>(registry::Kind::kGroup) && group && !changed) {
        changed = true;
        group->name = "another";
        stored = registry::Encode(*group);
      }
      hasher.Add(key, stored);
      sync::AppendEntry(snapshot.parts[i], key, stored);
    }
  }
  snapshot.manifest.state_digest = hasher.Finish();
  AttestAnew();
  EnterDana();
  ASSERT_EQ(BaseOfDana(), Place());
  const auto filled = house_.Fill("dana");
  ASSERT_TRUE(filled.ok()) << filled.status();
  ASSERT_TRUE(filled->fault.has_value());
  EXPECT_THAT(*filled->fault, HasSubstr("tomas, iva and bela"));
  EXPECT_THAT(*house_.At("dana").SnapshotFaults(), ElementsAre(*filled->fault));
  ExpectWhole();  // the log is what counts
}

TEST_F(SnapshotTest, OfAnotherStateIsNotAttested) {
  house_.AddGroups("mira", 10);
  house_.TakeSnapshot();
  house_.snapshot->manifest.state_digest[0] ^= 1U;
  house_.AddGroups("mira", 10);
  const auto synced = house_.Sync("tomas");
  ASSERT_TRUE(synced.ok()) << synced.status();
  EXPECT_THAT(synced->snapshot_fault.value_or(""), HasSubstr("another state"));
  EXPECT_THAT(house_.snapshot->attestations, IsEmpty());
  EXPECT_THAT(*house_.At("tomas").SnapshotFaults(), ElementsAre(*synced->snapshot_fault));
}

// The change of folders, left by a process that ended after some of its steps.
class FolderChangeTest : public SnapshotTest {
 protected:
  // A history that is whole and a replica that is not, both closed.
  void SetUp() override {
    EnterDana();
    const Home home = house_.HomeOf("dana");
    house_.Close("dana");
    std::filesystem::copy(home.database(), copy_, std::filesystem::copy_options::recursive);
    ASSERT_TRUE(house_.Fill("dana").ok());
    house_.Close("dana");
    std::filesystem::rename(home.database(), home.history());
    std::filesystem::rename(copy_, home.database());
  }

  std::filesystem::path copy_ = house_.HomeOf("dana").folder() / "copy";
};

TEST_F(FolderChangeTest, BeforeTheFirstRenameHasNotBegun) {
  EXPECT_EQ(BaseOfDana(), Place());
  ASSERT_TRUE(house_.Fill("dana").ok());
  ExpectWhole();
}

TEST_F(FolderChangeTest, BetweenTheRenamesIsFinishedByTheNextOpening) {
  const Home home = house_.HomeOf("dana");
  std::filesystem::rename(home.database(), home.database_before());
  EXPECT_EQ(FolderToRead(home), home.history());
  EXPECT_EQ(BaseOfDana(), 0U);
  EXPECT_FALSE(std::filesystem::exists(home.history()));
  ExpectWhole();
}

TEST_F(FolderChangeTest, AfterTheSecondRenameIsFinishedByTheNextOpening) {
  const Home home = house_.HomeOf("dana");
  std::filesystem::rename(home.database(), home.database_before());
  std::filesystem::rename(home.history(), home.database());
  EXPECT_EQ(FolderToRead(home), home.database());
  EXPECT_EQ(BaseOfDana(), 0U);
  EXPECT_FALSE(std::filesystem::exists(home.database_before()));
  ExpectWhole();
}

TEST_F(FolderChangeTest, IsLeftWhereSomethingWasWrittenMeanwhile) {
  const Home home = house_.HomeOf("dana");
  const absl::Status written = Fail(absl::StatusCode::kUnavailable, "REPLICA_BUSY", "written");
  EXPECT_EQ(ReasonOf(ChangeFolders(home, nullptr, [&] { return written; })), "REPLICA_BUSY");
  EXPECT_EQ(BaseOfDana(), Place());
  EXPECT_TRUE(std::filesystem::exists(home.history()));
}

TEST_F(FolderChangeTest, WaitsForWhoeverHasOpenedTheReplicaMeanwhile) {
  const Home home = house_.HomeOf("dana");
  const auto other = store::Store::Open(home.database(), store::Access::kReadWrite);
  ASSERT_TRUE(other.ok());
  EXPECT_EQ(ReasonOf(ChangeFolders(home, nullptr, [] { return absl::OkStatus(); })),
            "REPLICA_BUSY");
  EXPECT_TRUE(std::filesystem::exists(home.database()));
  EXPECT_TRUE(std::filesystem::exists(home.history()));
}

TEST_F(FolderChangeTest, ThatDoesNotGoThroughLeavesTheReplicaWhereItIs) {
  const Home home = house_.HomeOf("dana");
  std::filesystem::remove_all(home.history());
  EXPECT_FALSE(ChangeFolders(home, nullptr, [] { return absl::OkStatus(); }).ok());
  EXPECT_EQ(BaseOfDana(), Place());
  EXPECT_FALSE(std::filesystem::exists(home.database_before()));
}

TEST_F(FolderChangeTest, KeepsOffWhoeverWouldOpenTheReplicaMeanwhile) {
  std::optional<Gate> gate(*Gate::Take(house_.HomeOf("dana")));
  std::jthread later([&] {
    std::this_thread::sleep_for(std::chrono::milliseconds(200));
    gate.reset();
  });
  const auto begun = std::chrono::steady_clock::now();
  EXPECT_EQ(BaseOfDana(), Place());
  EXPECT_GE(std::chrono::steady_clock::now() - begun, std::chrono::milliseconds(200));
}

}  // namespace
}  // namespace broodpact::replica
