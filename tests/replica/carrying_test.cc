// Goal: what a replica carries for others is delivered for them, and where the server takes it not,
// stands in nobody's way. Method: real replicas that meet by bundles; a server behind function
// calls that judges what is pushed.

#include <sstream>
#include <string>

#include <gmock/gmock.h>

#include "client/base/status.h"
#include "client/sync/bundle.h"
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
    EXPECT_EQ(Read("tomas", BundleOf("mira")).mail_taken, 1U);
  }

  std::string BundleOf(const std::string& keeper) {
    std::ostringstream out;
    Demand(house_.At(keeper).WriteBundle(out, {}).status());
    return out.str();
  }

  BundleReport Read(const std::string& keeper, const std::string& bundle) {
    std::istringstream in(bundle);
    return Demand(house_.At(keeper).ReadBundle(in));
  }

  // What a keeper has not delivered, as one run: its last commit alone is signed.
  std::string RunOf(const std::string& keeper) {
    std::vector<facts::SignedCommit> run;
    for (const Replica::Undelivered& one : house_.At(keeper).undelivered()) {
      if (!run.empty()) run.back().signature = {};
      run.push_back(one.signed_commit);
    }
    std::ostringstream out;
    sync::BundleWriter writer(out, {.cooperative = house_.cooperative()});
    writer.Add(run);
    writer.Finish();
    return out.str();
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

// By the clock, one of his own comes between the two of hers, of which the second vouches for both.
TEST_F(Carrying, HandsOnWholeRunsWhateverComesBetweenThemByTheClock) {
  house_.Enter("iva");
  for (const char* const name : {"tomas", "iva"}) ASSERT_TRUE(house_.Sync(name).ok());
  State("mira", GroupId{{3}}, "first of mira");
  house_.clock().Advance(1'000);
  State("tomas", GroupId{{4}}, "between them");
  house_.clock().Advance(1'000);
  State("mira", GroupId{{5}}, "second of mira");
  ASSERT_EQ(Read("tomas", RunOf("mira")).mail_taken, 2U);
  const BundleReport report = Read("iva", BundleOf("tomas"));
  EXPECT_EQ(report.mail_taken, 3U);
  EXPECT_EQ(report.mail_refused, 0U);
  EXPECT_EQ(report.mail_early, 0U);
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
