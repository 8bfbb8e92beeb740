// Goal: a sync folds nothing of what waits before it begins, and tells the same as if it had.
// Method: keepers at a server that is no program; one closes, and opens her replica to sync alone.

#include <optional>
#include <sstream>
#include <string>

#include <gmock/gmock.h>

#include "client/base/status.h"
#include "client/registry/state.h"
#include "client/replica/acts_animal.h"
#include "client/replica/internal/provisional.h"
#include "tests/replica/testing/demand.h"
#include "tests/replica/testing/house.h"

namespace broodpact::replica {
namespace {

using testing::Demand;
using testing::House;
using ::testing::IsEmpty;
using ::testing::SizeIs;

constexpr GroupId kGroup{{8}};  // of iva

// Iva and tomas give the same name to a group; his comes in first.
class OpenedToSync : public ::testing::Test {
 protected:
  OpenedToSync() {
    house_.Found("mira");
    house_.Enter("tomas");
    house_.Enter("iva");
    NameGroup("iva", kGroup);
    NameGroup("tomas", GroupId{{7}});
  }

  void NameGroup(const std::string& keeper, const GroupId& group) {
    Demand(house_.At(keeper)
               .Act({facts::GroupEntry{
                   .group = group, .name = "colima", .taxon = "Brachypelma hamorii"}})
               .status());
  }

  Replica& Reopened() {
    house_.Close("iva");
    return house_.OpenToSync("iva");
  }

  // What one has, without a server.
  void HandOver(const std::string& from, const std::string& to) {
    std::stringstream bundle;
    Demand(house_.At(from).WriteBundle(bundle, std::nullopt).status());
    Demand(house_.At(to).ReadBundle(bundle).status());
  }

  void Refuse() {
    house_.door = [](const auto&) { return absl::UnavailableError("cut off before the push"); };
  }

  House house_;
};

TEST_F(OpenedToSync, TellsWhatCountedAndDoesNotAnyMore) {
  Demand(house_.Sync("tomas"));
  const Synced synced = Demand(Reopened().Sync({}));
  ASSERT_THAT(synced.changed, SizeIs(1));
  EXPECT_EQ(synced.changed.front().before, registry::Verdict{});
  EXPECT_EQ(synced.changed.front().after.reason, "NAME_TAKEN");
}

TEST_F(OpenedToSync, TellsNothingOfWhatDidNotCountBefore) {
  Demand(house_.Sync("tomas"));
  HandOver("tomas", "iva");
  EXPECT_THAT(Demand(Reopened().Sync({})).changed, IsEmpty());
}

TEST_F(OpenedToSync, TellsNothingOfWhatCountedWithARemark) {
  Replica& iva = house_.At("iva");
  const DaySpan matured{.earliest = Day{20'000}, .latest = Day{20'000}};
  const DaySpan moulted{.earliest = Day{20'100}, .latest = Day{20'100}};
  const AnimalId male = Demand(EnterAnimal(iva, {.group = kGroup,
                                                 .name = "kastor",
                                                 .sex = facts::Sex::kMale,
                                                 .maturity = matured}))
                            .id;
  ASSERT_EQ(Demand(RecordMoult(iva, {.animal = male, .day = moulted})).verdict.reason,
            "FLAG_MALE_MOULT");
  EXPECT_THAT(Demand(Reopened().Sync({})).changed, IsEmpty());
}

TEST_F(OpenedToSync, FoldsWhatWaitsWhereItIsNotKnownWhatWasSaid) {
  Demand(house_.Sync("tomas"));
  HandOver("tomas", "iva");
  house_.Close("iva");
  {
    const auto database =
        Demand(store::Store::Open(house_.HomeOf("iva").database(), store::Access::kReadWrite));
    Demand(ForgetProvisional(*database));
  }
  EXPECT_THAT(Demand(house_.OpenToSync("iva").Sync({})).changed, IsEmpty());
}

TEST_F(OpenedToSync, ShowsWhatWaitsOnceItIsFolded) {
  Replica& iva = Reopened();
  Demand(iva.FoldWaiting());
  EXPECT_TRUE(Demand(registry::Read<registry::Group>(iva.view(), kGroup)).has_value());
}

TEST_F(OpenedToSync, ShowsWhatWaitsAfterASyncThatFailed) {
  Refuse();
  Replica& iva = Reopened();
  EXPECT_FALSE(iva.Sync({}).ok());
  EXPECT_TRUE(Demand(registry::Read<registry::Group>(iva.view(), kGroup)).has_value());
}

}  // namespace
}  // namespace broodpact::replica
