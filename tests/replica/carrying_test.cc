// Goal: what a replica carries for others is delivered for them, and where the server takes it not,
// stands in nobody's way. Method: real replicas that meet by bundles; a server behind function
// calls that judges what is pushed.

#include <sstream>
#include <string>

#include <gmock/gmock.h>

#include "client/base/status.h"
#include "tests/replica/testing/demand.h"
#include "tests/replica/testing/house.h"

namespace broodpact::replica {
namespace {

using testing::Demand;
using testing::House;
using ::testing::SizeIs;

// Tomas carries a commit of mira's, and has one of his own.
class Carrying : public ::testing::Test {
 protected:
  Carrying() {
    house_.Found("mira");
    house_.Enter("tomas");
    EXPECT_TRUE(house_.Sync("mira").ok());
    State("mira", GroupId{{1}}, "of mira");
    State("tomas", GroupId{{2}}, "of tomas");
    std::ostringstream out;
    Demand(house_.At("mira").WriteBundle(out, {}).status());
    std::istringstream in(out.str());
    EXPECT_EQ(Demand(house_.At("tomas").ReadBundle(in)).mail_taken, 1U);
  }

  void State(const std::string& keeper, const GroupId& group, const std::string& name) {
    Demand(
        house_.At(keeper)
            .Act({facts::GroupEntry{.group = group, .name = name, .taxon = "Brachypelma hamorii"}})
            .status());
  }

  // Lets the server refuse what mira's device wrote.
  void RefuseMira(absl::StatusCode code, const std::string& reason) {
    const DeviceId mira = DeviceOf(house_.At("mira").device_key());
    house_.door = [=](const std::vector<facts::SignedCommit>& run) {
      const facts::Commit commit = Demand(facts::ParseCommit(run.front().bytes));
      return commit.header.device == mira ? Fail(code, reason, "refused") : absl::OkStatus();
    };
  }

  bool HasArrived(const GroupId& group) {
    return Demand(registry::Read<registry::Group>(house_.server(), group)).has_value();
  }

  House house_;
};

TEST_F(Carrying, DeliversForOthersToo) {
  ASSERT_TRUE(house_.Sync("tomas").ok());
  EXPECT_TRUE(HasArrived(GroupId{{1}}));
  EXPECT_TRUE(HasArrived(GroupId{{2}}));
  EXPECT_EQ(house_.At("tomas").carried(), 0U);
}

TEST_F(Carrying, StopsWhereTheServerTakesNothingAtAll) {
  RefuseMira(absl::StatusCode::kResourceExhausted, "SERVER_BUSY");
  EXPECT_EQ(ReasonOf(house_.Sync("tomas").status()), "SERVER_BUSY");
  EXPECT_THAT(house_.At("tomas").undelivered(), SizeIs(2));
}

// Why the server does not take a commit of one author, or of one device.
class CarryingWhatIs : public Carrying, public ::testing::WithParamInterface<std::string> {};

TEST_P(CarryingWhatIs, RefusedStopsNothingElse) {
  RefuseMira(absl::StatusCode::kPermissionDenied, GetParam());
  const auto synced = house_.Sync("tomas");
  ASSERT_TRUE(synced.ok()) << synced.status();
  EXPECT_FALSE(HasArrived(GroupId{{1}}));
  EXPECT_TRUE(HasArrived(GroupId{{2}}));
  EXPECT_EQ(house_.At("tomas").carried(), 1U) << "it is kept, and in his bundles";
}

INSTANTIATE_TEST_SUITE_P(Reasons, CarryingWhatIs,
                         ::testing::Values("CHAIN_FORK", "CHAIN_HOLE", "COMMIT_FORM", "DEVICE_LEFT",
                                           "DEVICE_OTHER", "DEVICE_REPLACED", "DEVICE_REVOKED",
                                           "DEVICE_UNKNOWN", "SEEN_AHEAD", "SEEN_OTHER",
                                           "SIGNATURE_BAD"),
                         [](const auto& reason) { return reason.param; });

}  // namespace
}  // namespace broodpact::replica
