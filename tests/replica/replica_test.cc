// Goal: what a keeper states shows at once, counts or leaves no trace, and survives a closing.
// Method: one to three keepers in a temporary folder, without a network.

#include "client/replica/replica.h"

#include <gmock/gmock.h>

#include "client/base/status.h"
#include "tests/replica/testing/society.h"

namespace broodpact::replica {
namespace {

using testing::AddAnimal;
using testing::AddGroup;
using ::testing::HasSubstr;
using testing::On;
using testing::Society;

facts::GroupEntry Group(Society& society, const std::string& name) {
  return {.group = device::FreshId<GroupId>(society.randomness()),
          .name = name,
          .taxon = "Brachypelma hamorii"};
}

TEST(Replica, HasNothingBeforeACooperative) {
  Society society;
  society.Start("mira");
  Replica& mira = society.At("mira");
  EXPECT_EQ(mira.cooperative(), Hash{});
  EXPECT_TRUE(mira.view().empty());
  EXPECT_TRUE(mira.undelivered().empty());
  EXPECT_EQ(ReasonOf(mira.Act({Group(society, "hamorii-colima")}).status()), "NO_COOPERATIVE");
  EXPECT_EQ(ReasonOf(mira.Try({Group(society, "hamorii-colima")}).status()), "NO_COOPERATIVE");
  EXPECT_EQ(ReasonOf(mira.Sync(sync::Options()).status()), "NO_COOPERATIVE");
  EXPECT_EQ(ReasonOf(mira.Invite(facts::Role::kKeeper, "tomas").status()), "NO_COOPERATIVE");
}

TEST(Replica, FoundsAndActsWithNoServer) {
  Society society;
  society.Start("mira", "CZ");
  Replica& mira = society.At("mira");
  const absl::StatusOr<Acted> founded = mira.Found("show-room");
  ASSERT_TRUE(founded.ok()) << founded.status();
  EXPECT_EQ(mira.cooperative(), founded->commit);
  EXPECT_EQ(founded->undelivered, 1U);

  const absl::StatusOr<Acted> acted = mira.Act({Group(society, "hamorii-colima")});
  ASSERT_TRUE(acted.ok()) << acted.status();
  EXPECT_EQ(acted->undelivered, 2U);
  EXPECT_EQ(mira.undelivered().back().commit.header.prev, founded->commit);

  const auto keeper = society.ViewOf("mira").Keeper(mira.identity().keeper);
  ASSERT_TRUE(keeper.ok()) << keeper.status();
  EXPECT_EQ(keeper->role(), "registrar");
  EXPECT_EQ(keeper->standing(), v1::STANDING_PROVISIONAL);
}

TEST(Replica, FoundsOnlyOnce) {
  Society society;
  society.Found("mira");
  EXPECT_EQ(ReasonOf(society.At("mira").Found("again").status()), "ALREADY_MEMBER");
}

TEST(Replica, GoesOnFromAFoundingThatWasCutOff) {
  Society society;
  society.Start("mira");
  Hash founded{};
  {
    // The founding commit is stored, and the cooperative is not yet written down.
    const Home home = society.HomeOf("mira");
    const auto identity = home.ReadIdentity();
    const auto key = device::SecretKey::Load(home.key_file());
    ASSERT_TRUE(identity.ok() && key.ok());
    const std::string bytes = facts::BuildCommit(
        {.device = DeviceOf(key->public_key()), .clock_ms = society.clock().NowMillis()},
        {facts::Founding{.name = "show-room",
                         .keeper = identity->keeper,
                         .keeper_name = "mira",
                         .device_key = key->public_key()}});
    founded = Sha256(bytes);
    const auto database = store::Store::Open(home.database(), store::Access::kReadWrite);
    ASSERT_TRUE(database.ok());
    ASSERT_TRUE((*database)
                    ->AppendPending({{.chain = {DeviceOf(key->public_key()), 1},
                                      .seq = 1,
                                      .commit = {bytes, facts::SignCommit(*key, founded)}}})
                    .ok());
  }
  EXPECT_EQ(society.At("mira").cooperative(), founded);
  EXPECT_TRUE(society.At("mira").Act({Group(society, "hamorii-colima")}).ok());
}

TEST(Replica, ShowsUndeliveredActsAgainAfterAClosing) {
  Society society;
  society.Found("mira");
  AddGroup(society, "mira", "hamorii-colima");
  society.Close("mira");
  EXPECT_EQ(society.At("mira").undelivered().size(), 1U);
  EXPECT_TRUE(society.ViewOf("mira").GroupNamed("hamorii-colima").ok());
}

TEST(Replica, LeavesNoTraceOfARefusedAct) {
  Society society;
  society.Found("mira");
  AddGroup(society, "mira", "hamorii-colima");
  Replica& mira = society.At("mira");
  const auto groups = society.ViewOf("mira").Groups();
  const absl::Status refused = mira.Act({Group(society, "Hamorii-Colima")}).status();
  EXPECT_EQ(refused.code(), absl::StatusCode::kFailedPrecondition);
  EXPECT_EQ(ReasonOf(refused), "NAME_TAKEN");
  EXPECT_EQ(mira.undelivered().size(), 1U);
  EXPECT_EQ(society.ViewOf("mira").Groups()->SerializeAsString(), groups->SerializeAsString());
  EXPECT_TRUE(mira.Act({Group(society, "hamorii-jalisco")}).ok());
  EXPECT_EQ(mira.undelivered().back().commit.header.seq, 3U);
}

TEST(Replica, KeepsAllOfACommitOrNothing) {
  Society society;
  society.Found("mira");
  AddGroup(society, "mira", "hamorii-colima");
  EXPECT_FALSE(society.At("mira")
                   .Act({Group(society, "hamorii-jalisco"), Group(society, "hamorii-colima")})
                   .ok());
  EXPECT_FALSE(society.ViewOf("mira").GroupNamed("hamorii-jalisco").ok());
}

TEST(Replica, RefusesWhatAPersonTypedWrongBeforeItIsFolded) {
  Society society;
  society.Found("mira");
  EXPECT_EQ(ReasonOf(society.At("mira").Act({Group(society, "")}).status()), "NAME_EMPTY");
  EXPECT_EQ(ReasonOf(society.At("mira").Act({Group(society, std::string(65, 'x'))}).status()),
            "NAME_TOO_LONG");
  EXPECT_TRUE(society.At("mira").undelivered().empty());
}

TEST(Replica, SaysWhoMayNot) {
  Society society;
  society.Found("mira");
  society.Enter("tomas");
  const absl::Status status =
      society.At("tomas")
          .Act({facts::Invitation{.invite_key = {1}, .role = facts::Role::kKeeper}})
          .status();
  EXPECT_EQ(status.code(), absl::StatusCode::kPermissionDenied);
  EXPECT_EQ(ReasonOf(status), "NOT_REGISTRAR");
}

TEST(Replica, TriesWithoutDoing) {
  Society society;
  society.Found("mira");
  Replica& mira = society.At("mira");
  const absl::StatusOr<Acted> tried = mira.Try({Group(society, "hamorii-colima")});
  ASSERT_TRUE(tried.ok()) << tried.status();
  EXPECT_EQ(tried->undelivered, 1U);
  EXPECT_TRUE(mira.undelivered().empty());
  EXPECT_TRUE(mira.view().empty());
  AddGroup(society, "mira", "hamorii-colima");
  EXPECT_EQ(ReasonOf(mira.Try({Group(society, "hamorii-colima")}).status()), "NAME_TAKEN");
}

TEST(Replica, NamesWhatItHadSeenOfTheLog) {
  Society society;
  society.Found("mira");
  AddGroup(society, "mira", "hamorii-colima");
  const facts::CommitHeader header = society.At("mira").undelivered().back().commit.header;
  const facts::LogPoint point = society.At("mira").store().point();
  EXPECT_EQ(header.seen.arrivals, 1U);
  EXPECT_EQ(header.seen.log_hash, FirstHalf<Token>(point.log_hash).bytes);
}

TEST(Replica, ThrowsItsOverlayAwayForWhatArrivedBefore) {
  Society society;
  society.Found("mira");
  society.Enter("tomas");
  const GroupId mine = AddGroup(society, "tomas", "hamorii-colima");
  EXPECT_TRUE(society.ViewOf("tomas").Group(mine).ok());
  AddGroup(society, "mira", "hamorii-colima");
  society.Push("mira");
  society.Pull("tomas");
  ASSERT_EQ(society.At("tomas").undelivered().size(), 1U);
  EXPECT_EQ(society.At("tomas").undelivered().front().verdict.reason, "NAME_TAKEN");
  EXPECT_FALSE(society.ViewOf("tomas").Group(mine).ok());
  society.Deliver();
  EXPECT_TRUE(society.At("tomas").undelivered().empty());
  EXPECT_FALSE(society.ViewOf("tomas").Group(mine).ok());
}

TEST(Replica, EndsUpTheSameOnEveryReplica) {
  Society society;
  society.Found("mira", "CZ");
  society.Enter("tomas", "DE");
  society.Enter("bela");
  const GroupId group = AddGroup(society, "tomas", "hamorii-colima");
  society.Deliver();
  for (const char* keeper : {"mira", "tomas", "bela"}) {
    AddAnimal(society, keeper, {.group = group, .name = "rosa", .sex = facts::Sex::kFemale});
  }
  society.Deliver();
  const auto digest = society.At("mira").store().StateDigest();
  ASSERT_TRUE(digest.ok());
  EXPECT_EQ(*society.At("tomas").store().StateDigest(), *digest);
  EXPECT_EQ(*society.At("bela").store().StateDigest(), *digest);
  EXPECT_TRUE(society.At("bela").view().empty());
}

TEST(Replica, ReadsBesideAWriter) {
  Society society;
  society.Found("mira");
  AddGroup(society, "mira", "hamorii-colima");
  society.At("mira");
  // A reader needs no secret: it may be away.
  std::filesystem::rename(society.HomeOf("mira").key_file(), society.folder() / "away");
  const auto reader =
      Replica::Open(society.HomeOf("mira"), store::Access::kReadOnly, society.surroundings());
  ASSERT_TRUE(reader.ok()) << reader.status();
  EXPECT_EQ((*reader)->undelivered().size(), 1U);
  EXPECT_EQ((*reader)->cooperative(), society.At("mira").cooperative());
  EXPECT_EQ((*reader)->device_key(), society.At("mira").device_key());
  EXPECT_TRUE((*reader)->Try({Group(society, "hamorii-jalisco")}).ok());
  EXPECT_EQ(ReasonOf((*reader)->Act({Group(society, "hamorii-jalisco")}).status()), "READ_ONLY");
  EXPECT_EQ(ReasonOf((*reader)->Found("again").status()), "READ_ONLY");
  EXPECT_EQ(ReasonOf((*reader)->Rebuild().status()), "READ_ONLY");
}

TEST(Replica, TellsASecondWriterThatItIsBusy) {
  Society society;
  society.Found("mira");
  society.At("mira");
  EXPECT_EQ(ReasonOf(Replica::Open(society.HomeOf("mira"), store::Access::kReadWrite,
                                   society.surroundings())
                         .status()),
            "REPLICA_BUSY");
}

TEST(Replica, TellsAReaderBesideARebuildThatItIsBusy) {
  Society society;
  society.Found("mira");
  society.Close("mira");
  const Home home = society.HomeOf("mira");
  const auto writer = store::Store::Open(home.database(), store::Access::kReadWrite);
  ASSERT_TRUE(writer.ok()) << writer.status();
  ASSERT_TRUE((*writer)->ClearFold().ok());
  const absl::Status status =
      Replica::Open(home, store::Access::kReadOnly, society.surroundings()).status();
  EXPECT_EQ(ReasonOf(status), "REPLICA_BUSY");
  EXPECT_THAT(std::string(status.message()), HasSubstr("writes to this replica"));
}

TEST(Replica, NeedsAServerToInviteAndToSync) {
  Society society;
  society.Found("mira");
  EXPECT_EQ(ReasonOf(society.At("mira").Invite(facts::Role::kKeeper, "tomas").status()),
            "NO_SERVER");
  EXPECT_EQ(ReasonOf(society.At("mira").Sync(sync::Options()).status()), "NO_SERVER");
  EXPECT_EQ(ReasonOf(society.At("mira").Join("broodpact1nonsense")), "INVITE_CODE");
  EXPECT_FALSE(society.At("mira").LastHead()->has_value());
}

}  // namespace
}  // namespace broodpact::replica
