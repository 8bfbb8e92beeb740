// Goal: late work of a device that was cut off counts once, whatever becomes of the server's log
// meanwhile. Method: real replicas, a bundle, and a log behind function calls that is put back.

#include <sstream>

#include <gmock/gmock.h>

#include "client/replica/acts_member.h"
#include "tests/replica/testing/demand.h"
#include "tests/replica/testing/house.h"

namespace broodpact::replica {
namespace {

using testing::Demand;
using testing::House;
using ::testing::IsEmpty;

// Tomas has recorded a moult that he has not delivered, and Mira has cut his device off.
class Adoptions : public ::testing::Test {
 protected:
  Adoptions() {
    house_.Found("mira");
    house_.AddGroups("mira", 1);
    house_.Enter("tomas");
    house_.Enter("iva");
    Demand(house_.At("tomas").Act({facts::GroupEntry{
        .group = GroupId{{1}}, .name = "colima", .taxon = "Brachypelma hamorii"}}));
    Demand(house_.At("tomas").Act(
        {facts::AnimalEntry{.animal = kRosa, .group = GroupId{{1}}, .name = "rosa"}}));
    Demand(house_.Sync("tomas"));
    Demand(house_.Sync("mira"));
    Demand(house_.Sync("iva"));
    kept_ = house_.server().point().arrivals;
    tomas_ = DeviceOf(house_.At("tomas").device_key());
    Demand(RevokeDevice(house_.At("mira"), {.device = tomas_, .reason = "silent"}));
    // What waits is folded by its clocks: a day later, it is late work.
    house_.clock().AdvanceDays(1);
    Demand(house_.At("tomas").Act(
        {facts::Moult{.animal = kRosa, .day = Demand(ParseDaySpan("2026-11-20"))}}));
  }

  // By a bundle that Tomas hands to her. Returns how many commits.
  std::uint64_t AdoptAtMira() {
    std::ostringstream out;
    Demand(house_.At("tomas").WriteBundle(out, {}));
    std::istringstream in(out.str());
    Demand(house_.At("mira").ReadBundle(in));
    return Demand(house_.At("mira").Adopt(tomas_)).adopted;
  }

  std::size_t MoultsOnServer() {
    return Demand(registry::Read<registry::Animal>(house_.server(), kRosa))->moults.size();
  }
  registry::Verdict LastVerdict() {
    return Demand(house_.server().ReadArrival(house_.server().point().arrivals)).verdict;
  }

  static constexpr AnimalId kRosa{{2}};
  House house_;
  DeviceId tomas_{};
  std::uint64_t kept_ = 0;  // arrivals before the moult
};

TEST_F(Adoptions, CountNothingAgainThatArrivedByItselfAfterALoss) {
  Demand(house_.Sync("mira"));
  ASSERT_EQ(AdoptAtMira(), 1U);
  Demand(house_.Sync("mira"));
  ASSERT_EQ(MoultsOnServer(), 1U);

  house_.Lose(kept_);
  Demand(house_.Sync("tomas"));  // who does not know that his device is cut off
  ASSERT_EQ(MoultsOnServer(), 1U);
  const std::uint64_t arrival = house_.server().point().arrivals;
  Demand(house_.Sync("mira"));
  Demand(house_.Sync("mira"));
  EXPECT_EQ(MoultsOnServer(), 1U);
  EXPECT_EQ(LastVerdict().reason, "ALREADY_ARRIVED");
  EXPECT_EQ(LastVerdict().winner_arrival, arrival);
  EXPECT_THAT(house_.At("mira").undelivered(), IsEmpty());
}

TEST_F(Adoptions, CountAtOtherPlacesAfterALossToo) {
  Demand(house_.Sync("mira"));
  ASSERT_EQ(AdoptAtMira(), 1U);
  Demand(house_.Sync("mira"));

  house_.Lose(kept_);
  house_.AddGroups("iva", 5);
  Demand(house_.Sync("mira"));
  Demand(house_.Sync("mira"));
  EXPECT_EQ(LastVerdict(), registry::Verdict{.kind = registry::VerdictKind::kCounted});
  EXPECT_EQ(MoultsOnServer(), 1U);
}

// Offline, in one go: nobody has to sync between the two.
TEST_F(Adoptions, FollowOnARevocationThatHasNotArrived) {
  EXPECT_EQ(AdoptAtMira(), 1U);
  Demand(house_.Sync("mira"));
  EXPECT_EQ(MoultsOnServer(), 1U);
}

}  // namespace
}  // namespace broodpact::replica
