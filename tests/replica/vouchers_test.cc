// Goal: vouchers say of a device what the whole log says, and what nobody signed, or does not hang
// together, is refused. Method: the log of a small cooperative, picked apart, with one thing spoilt
// at a time.

#include "client/replica/vouchers.h"

#include <gmock/gmock.h>

#include "client/base/bytes.h"
#include "client/base/status.h"
#include "client/replica/acts_member.h"
#include "client/replica/internal/vouched_devices.h"
#include "tests/replica/testing/house.h"

namespace broodpact::replica {
namespace {

using testing::House;

class VouchersTest : public ::testing::Test {
 protected:
  VouchersTest() {
    house_.Found("mira");
    for (const char* const name : {"tomas", "iva"}) {
      house_.Enter(name);
      house_.AddGroups("mira", 3);
    }
  }

  std::vector<std::string> Picked() {
    VoucherPicker picker;
    const store::Store& log = house_.server();
    const absl::Status status = log.VisitArrivals(
        1, log.point().arrivals, [&](std::uint64_t arrival, const store::StoredArrival& stored) {
          return picker.Add(arrival, stored);
        });
    EXPECT_TRUE(status.ok()) << status;
    return std::move(picker).TakeParts();
  }

  DeviceId DeviceNamed(const std::string& keeper) {
    return DeviceOf(house_.At(keeper).device_key());
  }

  // The runs of a part: arrivals before, records.
  static std::vector<std::pair<std::uint64_t, std::string>> RunsOf(const std::string& part) {
    std::vector<std::pair<std::uint64_t, std::string>> runs;
    ByteReader reader(part);
    while (!reader.at_end()) {
      const std::uint64_t before = reader.Unsigned();
      runs.emplace_back(before, std::string(reader.Text()));
    }
    return runs;
  }
  static std::string PartOf(const std::vector<std::pair<std::uint64_t, std::string>>& runs) {
    std::string part;
    ByteWriter writer(part);
    for (const auto& [before, records] : runs) {
      writer.Unsigned(before);
      writer.Text(records);
    }
    return part;
  }

  House house_;
};

TEST_F(VouchersTest, KnowTheDevicesOfAllMembers) {
  VouchedDevices devices(house_.cooperative());
  for (const std::string& part : Picked()) ASSERT_TRUE(devices.Add(part).ok());
  for (const char* const name : {"mira", "tomas", "iva"}) {
    const auto device = devices.Active(DeviceNamed(name));
    ASSERT_TRUE(device.ok() && device->has_value()) << name;
    EXPECT_EQ((*device)->keeper, house_.At(name).identity().keeper);
    EXPECT_EQ(*devices.NameOf((*device)->keeper), name);
  }
  EXPECT_FALSE(devices.Active(DeviceId{{1}})->has_value());
}

TEST(Vouchers, AreOfNoKindThatIsNotKnownExceptBesideOneThatIs) {
  facts::Commit commit;
  commit.statements = {facts::Unknown{}};
  EXPECT_FALSE(IsOfMembership(commit));
  commit.statements.emplace_back(facts::Leaving{});
  EXPECT_TRUE(IsOfMembership(commit));
  EXPECT_EQ(MembershipIn(commit).statements.size(), 2U) << "all of it is held";
}

TEST_F(VouchersTest, AreAFewOfAllArrivals) {
  house_.AddGroups("mira", 200);
  std::size_t runs = 0;
  for (const std::string& part : Picked()) runs += RunsOf(part).size();
  EXPECT_EQ(runs, 5U);  // the founding, two invitations, two entries
}

TEST_F(VouchersTest, KnowThatADeviceWasCutOff) {
  ASSERT_TRUE(
      RevokeDevice(house_.At("mira"), {.device = DeviceNamed("iva"), .reason = "lost"}).ok());
  ASSERT_TRUE(house_.Sync("mira").ok());
  VouchedDevices devices(house_.cooperative());
  for (const std::string& part : Picked()) ASSERT_TRUE(devices.Add(part).ok());
  EXPECT_FALSE(devices.Active(DeviceNamed("iva"))->has_value());
  EXPECT_TRUE(devices.Active(DeviceNamed("tomas"))->has_value());
}

TEST_F(VouchersTest, OfWhatIsSaidBesideTakeMembershipAlone) {
  // One commit that invites and enters a group of a parent that nobody knows here.
  const device::SecretKey invite = device::SecretKey::OfSeed(std::string(32, 'i'));
  ASSERT_TRUE(house_.At("mira")
                  .Act({facts::GroupEntry{.group = GroupId{{5}}, .name = "beside", .taxon = "A b"},
                        facts::Invitation{.invite_key = invite.public_key(),
                                          .role = facts::Role::kKeeper,
                                          .keeper_name = "bela"}})
                  .ok());
  ASSERT_TRUE(house_.Sync("mira").ok());
  VouchedDevices devices(house_.cooperative());
  for (const std::string& part : Picked()) EXPECT_TRUE(devices.Add(part).ok());
}

TEST_F(VouchersTest, RefuseADeviceThatNobodyLetIn) {
  // A stranger enters by an invitation that he has written himself.
  const device::SecretKey stranger = device::SecretKey::OfSeed(std::string(32, 'x'));
  const device::SecretKey invite = device::SecretKey::OfSeed(std::string(32, 'y'));
  const KeeperId keeper{{66}};
  facts::CommitHeader header;
  header.cooperative = house_.cooperative();
  header.device = DeviceOf(stranger.public_key());
  const std::string bytes = facts::BuildCommit(
      header, {facts::Joining{.invite_key = invite.public_key(),
                              .keeper = keeper,
                              .keeper_name = "stranger",
                              .device_key = stranger.public_key(),
                              .invite_signature = invite.Sign(facts::JoiningMessage(
                                  house_.cooperative(), keeper, stranger.public_key()))}});
  std::string records;
  facts::AppendArrival(records, {.commit = bytes,
                                 .time_ms = 1'795'597'200'000,
                                 .signature = facts::SignCommit(stranger, Sha256(bytes))});
  std::vector<std::pair<std::uint64_t, std::string>> runs = RunsOf(Picked().front());
  runs.emplace_back(house_.server().point().arrivals, records);
  VouchedDevices devices(house_.cooperative());
  ASSERT_TRUE(devices.Add(PartOf(runs)).ok());
  EXPECT_FALSE(devices.Active(DeviceOf(stranger.public_key()))->has_value());
}

TEST_F(VouchersTest, RefuseARunThatSomebodyChanged) {
  auto runs = RunsOf(Picked().front());
  runs.back().second[20] ^= 1;
  VouchedDevices devices(house_.cooperative());
  EXPECT_FALSE(devices.Add(PartOf(runs)).ok());
}

TEST_F(VouchersTest, RefuseARunWithAWrongLink) {
  // Two signed commits of one chain that do not follow each other.
  auto runs = RunsOf(Picked().front());
  std::string of_mira;
  for (const auto& [before, records] : runs) {
    facts::ArrivalReader reader(records);
    const auto arrival = reader.Next();
    ASSERT_TRUE(arrival.ok());
    const auto commit = facts::ParseCommit(arrival->commit);
    ASSERT_TRUE(commit.ok());
    if (commit->header.device == DeviceNamed("mira")) of_mira += records;
  }
  VouchedDevices devices(house_.cooperative());
  const absl::Status status = devices.Add(PartOf({{0, of_mira}}));
  EXPECT_EQ(ReasonOf(status), "CHAIN_HOLE") << status;
}

TEST_F(VouchersTest, RefuseRunsOutOfOrderAndWithoutASignature) {
  auto runs = RunsOf(Picked().front());
  std::swap(runs[1], runs[2]);
  EXPECT_EQ(ReasonOf(VouchedDevices(house_.cooperative()).Add(PartOf(runs))), "VOUCHERS_FORM");
  std::swap(runs[1], runs[2]);
  facts::ArrivalReader reader(runs.front().second);
  const auto arrival = reader.Next();
  ASSERT_TRUE(arrival.ok());
  std::string unsigned_records;
  facts::AppendArrival(unsigned_records, {.commit = arrival->commit, .time_ms = arrival->time_ms});
  runs.front().second = unsigned_records;
  EXPECT_EQ(ReasonOf(VouchedDevices(house_.cooperative()).Add(PartOf(runs))), "SIGNATURE_MISSING");
}

TEST_F(VouchersTest, OfAnotherCooperativeAreRefused) {
  EXPECT_EQ(ReasonOf(VouchedDevices(Hash{9}).Add(Picked().front())), "COOPERATIVE_OTHER");
}

}  // namespace
}  // namespace broodpact::replica
