// Goal: a home keeps who a keeper is, and its secrets for that keeper alone.
// Method: homes in a temporary folder, damaged and copied by hand.

#include "client/replica/home.h"

#include <fstream>

#include <gmock/gmock.h>

#include "client/base/status.h"
#include "client/device/private_file.h"
#include "tests/replica/testing/society.h"

namespace broodpact::replica {
namespace {

using std::filesystem::perms;
using testing::Society;

perms ModeOf(const std::filesystem::path& file) {
  return std::filesystem::status(file).permissions();
}

TEST(Home, WithoutAKeeperSaysHowToMakeOne) {
  const testing::TempFolder folder;
  const absl::StatusOr<Identity> identity = Home(folder.path()).ReadIdentity();
  EXPECT_EQ(ReasonOf(identity.status()), "NOT_STARTED");
  EXPECT_EQ(identity.status().code(), absl::StatusCode::kFailedPrecondition);
  EXPECT_THAT(std::string(identity.status().message()), ::testing::HasSubstr("broodpact start"));
}

TEST(Home, ReadsBackTheIdentityThatItWrote) {
  const testing::TempFolder folder;
  const Home home(folder.path());
  Identity identity{.keeper_name = "mira of the hill", .region = "CZ", .incarnation = 7};
  identity.keeper.bytes[3] = 9;
  identity.device_key[31] = 255;
  ASSERT_TRUE(home.WriteIdentity(identity).ok());
  const absl::StatusOr<Identity> read = home.ReadIdentity();
  ASSERT_TRUE(read.ok()) << read.status();
  EXPECT_EQ(*read, identity);
}

TEST(Home, KeepsItsSecretsFromOthers) {
  Society society;
  society.Start("mira", "CZ");
  const Home home = society.HomeOf("mira");
  EXPECT_EQ(ModeOf(home.folder()), perms::owner_all);
  EXPECT_EQ(ModeOf(home.key_file()), perms::owner_read | perms::owner_write);
  ASSERT_TRUE(home.WriteCredentials({.address = "localhost:1",
                                     .authority_pem = "a",
                                     .certificate_pem = "c",
                                     .key_pem = "k"})
                  .ok());
  EXPECT_EQ(ModeOf(home.folder() / "client.key"), perms::owner_read | perms::owner_write);
}

TEST(Home, IsDamagedWhenTheKeeperFileIsNotWhole) {
  Society society;
  society.Start("mira");
  std::ofstream(society.HomeOf("mira").folder() / "keeper") << "keeper not-an-id\nname mira\n";
  EXPECT_EQ(ReasonOf(society.HomeOf("mira").ReadIdentity().status()), "HOME_DAMAGED");
}

TEST(Home, HasNoCredentialsBeforeJoining) {
  const testing::TempFolder folder;
  const auto credentials = Home(folder.path()).ReadCredentials();
  ASSERT_TRUE(credentials.ok());
  EXPECT_FALSE(credentials->has_value());
}

TEST(Home, ReadsBackCredentialsAndMissesTheCertificateOfTheAuthorityAlone) {
  const testing::TempFolder folder;
  const Home home(folder.path());
  ASSERT_TRUE(home.WriteCredentials({.address = "host:7000",
                                     .authority_pem = "authority",
                                     .certificate_pem = "certificate",
                                     .key_pem = "key"})
                  .ok());
  const auto credentials = home.ReadCredentials();
  ASSERT_TRUE(credentials.ok() && *credentials);
  EXPECT_EQ((*credentials)->address, "host:7000");
  EXPECT_EQ((*credentials)->authority_pem, "authority");
  EXPECT_EQ((*credentials)->certificate_pem, "certificate");
  EXPECT_EQ((*credentials)->key_pem, "key");

  std::filesystem::remove(folder.path() / "client.pem");
  std::filesystem::remove(folder.path() / "client.key");
  const auto renewable = home.ReadCredentials();
  ASSERT_TRUE(renewable.ok() && *renewable) << renewable.status();
  EXPECT_EQ((*renewable)->certificate_pem, "");
  EXPECT_EQ((*renewable)->key_pem, "");
  std::filesystem::remove(folder.path() / "authority.pem");
  EXPECT_EQ(ReasonOf(home.ReadCredentials().status()), "HOME_DAMAGED");
}

TEST(Start, RefusesASecondKeeperInOneHome) {
  Society society;
  society.Start("mira");
  EXPECT_EQ(ReasonOf(Replica::Start(society.HomeOf("mira"), "tomas", "", society.surroundings())),
            "ALREADY_STARTED");
}

TEST(Start, RefusesANameOrARegionThatIsNone) {
  Society society;
  const Home home = society.HomeOf("x");
  EXPECT_EQ(ReasonOf(Replica::Start(home, "", "CZ", society.surroundings())), "NAME_EMPTY");
  for (const char* region : {"cz", "C", "CZE", "C1"}) {
    EXPECT_EQ(ReasonOf(Replica::Start(home, "mira", region, society.surroundings())),
              "REGION_SYNTAX")
        << region;
  }
  EXPECT_FALSE(home.started());
}

TEST(Start, GoesOnWithTheKeyOfAStartThatWasCutOff) {
  Society society;
  society.Start("mira");
  const Home home = society.HomeOf("mira");
  const absl::StatusOr<Identity> before = home.ReadIdentity();
  ASSERT_TRUE(before.ok());
  std::filesystem::remove(home.folder() / "keeper");
  ASSERT_TRUE(Replica::Start(home, "mira", "", society.surroundings()).ok());
  const absl::StatusOr<Identity> after = home.ReadIdentity();
  ASSERT_TRUE(after.ok());
  EXPECT_EQ(after->device_key, before->device_key);
}

TEST(Open, RefusesAKeyThatOthersMayRead) {
  Society society;
  society.Start("mira");
  const Home home = society.HomeOf("mira");
  std::filesystem::permissions(home.key_file(), perms::owner_read | perms::others_read);
  EXPECT_EQ(
      ReasonOf(Replica::Open(home, store::Access::kReadWrite, society.surroundings()).status()),
      "KEY_EXPOSED");
}

TEST(Open, RefusesTheKeyOfAnotherKeeper) {
  Society society;
  society.Start("mira");
  society.Start("tomas");
  std::filesystem::copy_file(society.HomeOf("tomas").key_file(), society.HomeOf("mira").key_file(),
                             std::filesystem::copy_options::overwrite_existing);
  EXPECT_EQ(ReasonOf(Replica::Open(society.HomeOf("mira"), store::Access::kReadWrite,
                                   society.surroundings())
                         .status()),
            "HOME_DAMAGED");
}

TEST(Open, KeepsTheIncarnationOfAHomeThatIsOfOnePiece) {
  Society society;
  society.Found("mira");
  society.Close("mira");
  EXPECT_EQ(society.At("mira").identity().incarnation, 1U);
}

TEST(Open, BeginsANewIncarnationWhereTheDatabaseCameFromElsewhere) {
  Society society;
  society.Found("mira");
  society.Close("mira");
  const Home home = society.HomeOf("mira");
  std::filesystem::copy(home.database(), society.folder() / "copy",
                        std::filesystem::copy_options::recursive);
  ASSERT_TRUE(home.WriteInstall("of another folder").ok());
  EXPECT_EQ(society.At("mira").identity().incarnation, 2U);

  // The other half: a database from a backup of before, beside a folder of after.
  society.Close("mira");
  std::filesystem::remove_all(home.database());
  std::filesystem::rename(society.folder() / "copy", home.database());
  EXPECT_EQ(society.At("mira").identity().incarnation, 3U);
  society.Close("mira");
  EXPECT_EQ(society.At("mira").identity().incarnation, 3U);
}

TEST(Open, BeginsANewIncarnationWhereTheDatabaseIsOfABackup) {
  Society society;
  society.Found("mira");
  society.Close("mira");
  const Home home = society.HomeOf("mira");
  std::filesystem::copy(home.database(), society.folder() / "backup",
                        std::filesystem::copy_options::recursive);
  testing::AddGroup(society, "mira", "hamorii-colima");
  society.Close("mira");
  EXPECT_EQ(society.At("mira").identity().incarnation, 1U);
  society.Close("mira");
  ASSERT_TRUE(home.ReadLast()->has_value());
  EXPECT_EQ((*home.ReadLast())->seq, 2U);

  std::filesystem::remove_all(home.database());
  std::filesystem::rename(society.folder() / "backup", home.database());
  EXPECT_EQ(society.At("mira").identity().incarnation, 2U) << "its commit 2 may be anywhere by now";
  society.Close("mira");
  EXPECT_EQ(society.At("mira").identity().incarnation, 2U);
  EXPECT_TRUE(society.At("mira").Verify()->faults.empty());
}

TEST(Open, TakesALastPlaceThatCannotBeReadForNone) {
  Society society;
  society.Found("mira");
  society.Close("mira");
  ASSERT_TRUE(device::WritePrivateFile(society.HomeOf("mira").folder() / "last", "garbage").ok());
  EXPECT_FALSE(society.HomeOf("mira").ReadLast()->has_value());
  EXPECT_EQ(society.At("mira").identity().incarnation, 1U);
}

TEST(Open, WritesOnInANewIncarnation) {
  Society society;
  society.Found("mira");
  testing::AddGroup(society, "mira", "hamorii-colima");
  society.Deliver();
  society.Close("mira");
  ASSERT_TRUE(society.HomeOf("mira").WriteInstall("of another folder").ok());
  testing::AddGroup(society, "mira", "hamorii-jalisco");
  EXPECT_EQ(society.At("mira").undelivered().back().commit.header.seq, 1U);
  society.Deliver();
  EXPECT_TRUE(society.At("mira").undelivered().empty());
  EXPECT_TRUE(society.ViewOf("mira").GroupNamed("hamorii-jalisco").ok());
}

}  // namespace
}  // namespace broodpact::replica
