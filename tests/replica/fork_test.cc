// Goal: two copies of one device lose nothing and stop nobody: whoever is second states again what
// lost its place. Method: keepers in temporary folders; folders are copied and put back between two
// openings, as people do.

#include <filesystem>
#include <limits>

#include <gmock/gmock.h>

#include "client/base/status.h"
#include "client/device/key.h"
#include "client/facts/commit.h"
#include "client/replica/acts_member.h"
#include "client/replica/notes.h"
#include "client/sync/bundle.h"
#include "tests/replica/testing/demand.h"
#include "tests/replica/testing/house.h"
#include "tests/replica/testing/society.h"

namespace broodpact::replica {
namespace {

using testing::AddAnimal;
using testing::AddGroup;
using testing::Demand;
using testing::House;
using testing::Society;

class Forks : public ::testing::Test {
 protected:
  Forks() {
    society_.Found("mira");
    society_.Enter("tomas");
    group_ = AddGroup(society_, "mira", "hamorii-colima");
    society_.Deliver();
  }

  // Copies a keeper's folder under another name.
  void Copy(const std::string& keeper, const std::string& copy) {
    society_.Close(keeper);
    society_.Close(copy);
    std::filesystem::remove_all(society_.HomeOf(copy).folder());
    std::filesystem::copy(society_.HomeOf(keeper).folder(), society_.HomeOf(copy).folder(),
                          std::filesystem::copy_options::recursive);
  }

  AnimalId Enter(const std::string& keeper, const std::string& name) {
    return AddAnimal(society_, keeper, {.group = group_, .name = name});
  }

  // What a sync does, without a server.
  void Sync(const std::string& keeper) {
    society_.Push(keeper);
    society_.Pull(keeper);
    society_.Push(keeper);
    society_.Pull(keeper);
  }

  void ExpectAllAlike(const std::vector<std::string>& keepers) {
    for (const std::string& keeper : keepers) society_.Pull(keeper);
    const auto digest = society_.At(keepers.front()).store().StateDigest();
    ASSERT_TRUE(digest.ok());
    for (const std::string& keeper : keepers) {
      EXPECT_EQ(*society_.At(keeper).store().StateDigest(), *digest) << keeper;
      EXPECT_TRUE(society_.At(keeper).undelivered().empty()) << keeper;
      const auto verified = society_.At(keeper).Verify();
      ASSERT_TRUE(verified.ok()) << verified.status();
      EXPECT_THAT(verified->faults, ::testing::IsEmpty()) << keeper;
    }
  }

  bool Knows(const std::string& keeper, const AnimalId& animal) {
    return society_.ViewOf(keeper).Animal(animal).ok();
  }

  Society society_;
  GroupId group_;
};

TEST_F(Forks, OfACopiedFolderAreStatedAgainInANewLife) {
  Copy("mira", "copy");
  const AnimalId rosa = Enter("mira", "rosa");
  const AnimalId blanka = Enter("copy", "blanka");
  const AnimalId cyril = Enter("copy", "cyril");
  Sync("mira");
  Sync("copy");
  EXPECT_EQ(society_.At("copy").identity().incarnation, 2U);
  EXPECT_EQ(society_.At("mira").identity().incarnation, 1U);
  ExpectAllAlike({"mira", "copy", "tomas"});
  for (const AnimalId& animal : {rosa, blanka, cyril}) EXPECT_TRUE(Knows("tomas", animal));

  // Both go on, each in a life of its own.
  const AnimalId dora = Enter("mira", "dora");
  const AnimalId ema = Enter("copy", "ema");
  Sync("copy");
  Sync("mira");
  EXPECT_EQ(society_.At("copy").identity().incarnation, 2U);
  ExpectAllAlike({"mira", "copy", "tomas"});
  EXPECT_TRUE(Knows("tomas", dora));
  EXPECT_TRUE(Knows("tomas", ema));
}

// Whoever has the key can take the highest life that there is, so that no device begins another one
// by counting on.
TEST_F(Forks, BeginTheFirstFreeLifeWhereTheLastOneIsTaken) {
  Enter("mira", "rosa");
  society_.Deliver();
  society_.Close("mira");
  const Home home = society_.HomeOf("mira");
  Identity identity = *home.ReadIdentity();
  identity.incarnation = std::numeric_limits<std::uint32_t>::max();
  ASSERT_TRUE(home.WriteIdentity(identity).ok());
  ASSERT_TRUE(home.WriteInstall("copied").ok());
  EXPECT_EQ(society_.At("mira").identity().incarnation, 2U) << "1 is taken";
  const AnimalId dora = Enter("mira", "dora");
  society_.Deliver();
  EXPECT_TRUE(Knows("tomas", dora));
}

TEST_F(Forks, KeepWhatWasBuiltOnWhatLostItsPlace) {
  Copy("mira", "copy");
  Enter("mira", "rosa");
  const AnimalId blanka = Enter("copy", "blanka");
  const Token token = society_.At("copy").undelivered().back().commit.token();
  ASSERT_TRUE(society_.At("copy")
                  .Act({facts::Gift{.animal = blanka,
                                    .receiver = society_.IdOf("tomas"),
                                    .owner_token = token,
                                    .holder_token = token}})
                  .ok());
  Sync("mira");
  Sync("copy");
  ExpectAllAlike({"mira", "copy", "tomas"});
  EXPECT_EQ(society_.ViewOf("tomas").Animal(blanka)->owner().name(), "tomas");
}

TEST_F(Forks, StateOnceWhatSeveralCopiesHave) {
  const AnimalId rosa = Enter("mira", "rosa");
  society_.Deliver();
  Copy("mira", "first");
  ASSERT_TRUE(society_.At("first")
                  .Act({facts::Moult{.animal = rosa, .day = testing::On("2026-05-01")}})
                  .ok());
  Copy("first", "second");
  Enter("mira", "dora");
  Sync("mira");
  Sync("first");
  Sync("second");
  EXPECT_EQ(society_.At("first").identity().incarnation, 2U);
  EXPECT_EQ(society_.At("second").identity().incarnation, 3U);
  ExpectAllAlike({"mira", "first", "second", "tomas"});
  EXPECT_EQ(society_.ViewOf("tomas").Animal(rosa)->moults_size(), 1);
}

TEST_F(Forks, PassOnWhatWasStatedAgainBefore) {
  Copy("mira", "first");
  const AnimalId blanka = Enter("first", "blanka");
  Enter("mira", "rosa");
  Sync("mira");
  society_.Pull("first");
  ASSERT_EQ(society_.At("first").identity().incarnation, 2U);  // not delivered yet
  Copy("first", "second");
  Enter("first", "cyril");
  society_.Close("first");
  // The second copy takes the same places of the same life, and is first.
  const AnimalId dora = Enter("second", "dora");
  Sync("second");
  Sync("first");
  EXPECT_EQ(society_.At("first").identity().incarnation, 3U);
  ExpectAllAlike({"mira", "first", "second", "tomas"});
  EXPECT_TRUE(Knows("tomas", blanka));
  EXPECT_TRUE(Knows("tomas", dora));
}

TEST_F(Forks, OfABackupThatWasPutBackLoseNothing) {
  Copy("mira", "backup");
  const AnimalId rosa = Enter("mira", "rosa");
  Sync("mira");
  Copy("backup", "mira");
  const AnimalId dora = Enter("mira", "dora");
  Sync("mira");
  ExpectAllAlike({"mira", "tomas"});
  EXPECT_TRUE(Knows("tomas", rosa));
  EXPECT_TRUE(Knows("tomas", dora));
  EXPECT_EQ(society_.At("mira").identity().incarnation, 2U);
}

TEST_F(Forks, OfABackupWithoutNewWorkGoOnAsTheyWere) {
  Copy("mira", "backup");
  const AnimalId rosa = Enter("mira", "rosa");
  Sync("mira");
  Copy("backup", "mira");
  Sync("mira");
  EXPECT_EQ(society_.At("mira").identity().incarnation, 1U);
  EXPECT_TRUE(Knows("mira", rosa));
  ExpectAllAlike({"mira", "tomas"});
}

// A new life that began for another reason does not take what is pending in the old one for
// arrived, because something else arrived there.
TEST_F(Forks, AreSeenInAnEarlierLifeToo) {
  Copy("mira", "copy");
  Enter("mira", "rosa");
  const AnimalId blanka = Enter("copy", "blanka");
  society_.Close("copy");
  ASSERT_TRUE(society_.HomeOf("copy").WriteInstall("of another folder").ok());
  ASSERT_EQ(society_.At("copy").identity().incarnation, 2U);
  Sync("mira");
  society_.Pull("copy");
  ASSERT_EQ(society_.At("copy").undelivered().size(), 1U);
  EXPECT_EQ(society_.At("copy").identity().incarnation, 2U) << "this life is nobody else's";
  EXPECT_TRUE(Knows("copy", blanka));
  Sync("copy");
  ExpectAllAlike({"mira", "copy", "tomas"});
  EXPECT_TRUE(Knows("tomas", blanka));
}

TEST_F(Forks, AreToldUntilTheyAreDelivered) {
  Copy("mira", "copy");
  Enter("mira", "rosa");
  Enter("copy", "blanka");
  Sync("mira");
  EXPECT_THAT(*NotesOf(society_.At("copy")), ::testing::IsEmpty());
  society_.Pull("copy");
  EXPECT_THAT(*NotesOf(society_.At("copy")),
              ::testing::ElementsAre(::testing::HasSubstr("in one folder only")));
  Sync("copy");
  EXPECT_THAT(*NotesOf(society_.At("copy")), ::testing::IsEmpty());
}

TEST_F(Forks, DoNotComeOfAClockThatIsYearsOff) {
  society_.clock().AdvanceDays(3'650);
  const AnimalId rosa = Enter("mira", "rosa");
  society_.Deliver();
  society_.clock().AdvanceDays(-3'650);
  EXPECT_THAT(*NotesOf(society_.At("tomas")),
              ::testing::ElementsAre(::testing::HasSubstr("3650 days behind")));
  const AnimalId blanka = Enter("tomas", "blanka");
  society_.clock().AdvanceDays(3'651);
  society_.Deliver();
  ExpectAllAlike({"mira", "tomas"});
  EXPECT_TRUE(Knows("mira", blanka));
  EXPECT_TRUE(Knows("tomas", rosa));
}

// Mira's folder was copied, and she has taken a place that the copy does not know of.
class ForksAtAServer : public ::testing::Test {
 protected:
  ForksAtAServer() {
    house_.Found("mira");
    house_.Enter("tomas");
    Demand(house_.Sync("mira").status());
  }

  void Copy() {
    house_.Close("mira");
    std::filesystem::copy(house_.HomeOf("mira").folder(), house_.HomeOf("copy").folder(),
                          std::filesystem::copy_options::recursive);
    house_.AddGroups("mira", 1);
  }

  void ExpectAllStatedAgain() {
    const auto synced = house_.Sync("copy");
    ASSERT_TRUE(synced.ok()) << synced.status();
    EXPECT_EQ(synced->restated, 1U);
    EXPECT_EQ(synced->restated_in_vain, 0U);
    EXPECT_THAT(house_.At("copy").undelivered(), ::testing::IsEmpty());
    house_.Close("copy");
    EXPECT_EQ(house_.At("copy").identity().incarnation, 2U);
  }

  // States sealed notes in one commit that has all the bytes that it may have.
  absl::StatusOr<Acted> StateTheLongest(Replica& replica) {
    std::vector<facts::Statement> notes;
    for (std::uint8_t i = 1; i <= 9; ++i) {
      notes.push_back(facts::SealedEntry{.note = SealedNoteId{{i}},
                                         .kind = facts::SealedSubject::kKeeper,
                                         .subject = replica.identity().keeper.bytes,
                                         .field = facts::SealedField::kNote,
                                         .sealed = std::string(facts::kEnvelopeBytesMax, 'x')});
    }
    absl::StatusOr<Acted> acted = replica.Act(notes);
    while (ReasonOf(acted.status()) == "COMMIT_TOO_LONG") {
      std::get<facts::SealedEntry>(notes.back()).sealed.pop_back();
      acted = replica.Act(notes);
    }
    return acted;
  }

  House house_;
};

TEST_F(ForksAtAServer, AreStatedAgainHoweverLongTheyAre) {
  Copy();
  Replica& copy = house_.At("copy");
  Demand(StateTheLongest(copy).status());
  ASSERT_EQ(copy.undelivered().back().signed_commit.bytes.size(), facts::kOwnCommitBytesMax);
  ExpectAllStatedAgain();
  EXPECT_TRUE(
      Demand(registry::Read<registry::SealedNote>(house_.server(), SealedNoteId{{9}})).has_value());
}

// What is carried whole is carried by one commit, and not by one within another.
TEST_F(ForksAtAServer, OfAnAdoptionAdoptAnew) {
  const DeviceId tomas = DeviceOf(house_.At("tomas").device_key());
  Demand(RevokeDevice(house_.At("mira"), {.device = tomas, .reason = "silent"}).status());
  Demand(house_.Sync("mira").status());
  Copy();
  // What waits is folded by its clocks: a day later, it is late work.
  house_.clock().AdvanceDays(1);
  Demand(StateTheLongest(house_.At("tomas")).status());
  std::ostringstream out;
  Demand(house_.At("tomas").WriteBundle(out, {}).status());
  std::istringstream in(out.str());
  Demand(house_.At("copy").ReadBundle(in).status());
  ASSERT_EQ(Demand(house_.At("copy").Adopt(tomas)).adopted, 1U);
  ExpectAllStatedAgain();
  EXPECT_TRUE(
      Demand(registry::Read<registry::SealedNote>(house_.server(), SealedNoteId{{9}})).has_value());
}

// The next commit of a keeper's chain as it was before a loss: it has seen the log of then.
std::string BundleOfOne(House& house, const std::string& keeper, const facts::Seen& seen) {
  Replica& replica = house.At(keeper);
  const device::SecretKey key = Demand(device::SecretKey::Load(replica.home().key_file()));
  const facts::ChainId chain{.device = DeviceOf(key.public_key())};
  const facts::ChainHead head = Demand(replica.store().HeadOf(chain));
  const std::string bytes = facts::BuildCommit(
      {.cooperative = house.cooperative(),
       .device = chain.device,
       .seq = head.seq + 1,
       .prev = head.hash,
       .seen = seen},
      {facts::GroupEntry{.group = GroupId{{7}}, .name = "lost", .taxon = "Brachypelma hamorii"}});
  std::ostringstream out;
  sync::BundleWriter writer(out, {.cooperative = house.cooperative()});
  writer.Add({{.bytes = bytes, .signature = facts::SignCommit(key, Sha256(bytes))}});
  writer.Finish();
  return out.str();
}

// What was seen of a log that is lost, and why the server refuses it.
struct SeenOfLost {
  facts::Seen seen{};
  std::string reason{};
};

class LostLogs : public ::testing::TestWithParam<SeenOfLost> {};

TEST_P(LostLogs, LeaveWorkThatSawThemToBeStatedAgain) {
  House house;
  house.Found("mira");
  house.door = [&](const std::vector<facts::SignedCommit>& run) -> absl::Status {
    const facts::Commit last = Demand(facts::ParseCommit(run.back().bytes));
    if (last.header.seen != GetParam().seen) return absl::OkStatus();
    return Fail(absl::StatusCode::kFailedPrecondition, GetParam().reason, "of another log");
  };
  std::istringstream bundle(BundleOfOne(house, "mira", GetParam().seen));
  ASSERT_EQ(Demand(house.At("mira").ReadBundle(bundle)).mail_taken, 1U);
  const auto synced = house.Sync("mira");
  ASSERT_TRUE(synced.ok()) << synced.status();
  EXPECT_EQ(synced->restated, 1U);
  EXPECT_TRUE(house.At("mira").undelivered().empty());
  EXPECT_TRUE(Demand(registry::Read<registry::Group>(house.At("mira").view(), GroupId{{7}})));
}

INSTANTIATE_TEST_SUITE_P(Places, LostLogs,
                         ::testing::Values(SeenOfLost{.seen = {.arrivals = 1'000, .log_hash = {1}},
                                                      .reason = "SEEN_AHEAD"},
                                           SeenOfLost{.seen = {.arrivals = 1, .log_hash = {1}},
                                                      .reason = "SEEN_OTHER"}),
                         [](const auto& places) { return places.param.reason; });

}  // namespace
}  // namespace broodpact::replica
