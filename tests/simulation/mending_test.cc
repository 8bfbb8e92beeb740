// Goal: wherever a device is cut off that states again what lost its place, the work is there after
// it: as it was, or stated again. Method: the folder of a copied device, opened anew for every
// write of the opening on a disk that fails there.

#include <cstdint>
#include <filesystem>

#include <gtest/gtest.h>

#include "tests/replica/testing/demand.h"
#include "tests/replica/testing/society.h"
#include "tests/simulation/crash_disk.h"

namespace broodpact::simulation {
namespace {

using replica::Replica;
using testing::AddGroup;
using testing::Demand;
using testing::Society;

// A copy of mira's device, whose commit can arrive nowhere any more, as the log has come to it.
class Mending : public ::testing::TestWithParam<Ending> {
 protected:
  Mending() {
    society_.Found("mira");
    Copy("mira", "copy");
    group_ = AddGroup(society_, "copy", "colima");
    AddGroup(society_, "mira", "in the way");
    society_.Push("mira");
    society_.Pull("copy");
  }

  // Copies a keeper's folder under another name.
  void Copy(const std::string& keeper, const std::string& copy) {
    society_.Close(keeper);
    std::filesystem::copy(society_.HomeOf(keeper).folder(), society_.HomeOf(copy).folder(),
                          std::filesystem::copy_options::recursive);
  }

  // Whether a folder opens on a disk that dies after so many writes.
  bool OpensOn(const std::string& keeper, std::uint32_t writes) {
    CrashDisk disk;
    disk.DieAfter(writes, writes);
    replica::Surroundings surroundings = society_.surroundings();
    surroundings.disk = &disk.disk();
    bool opened = false;
    {
      const auto replica =
          Replica::Open(society_.HomeOf(keeper), store::Access::kReadWrite, surroundings);
      opened = replica.ok() && !disk.dead();
    }
    Dice dice(writes);
    disk.Revive(GetParam(), dice);
    return opened;
  }

  Society society_;
  GroupId group_;
};

TEST_P(Mending, LosesNothingWhereverItIsCutOff) {
  std::uint32_t writes = 0;
  for (bool opened = false; !opened; ++writes) {
    const std::string keeper = "cut off " + std::to_string(writes);
    Copy("copy", keeper);
    opened = OpensOn(keeper, writes);
    EXPECT_TRUE(Demand(registry::Read<registry::Group>(society_.At(keeper).view(), group_)))
        << "write " << writes;
    EXPECT_EQ(society_.At(keeper).undelivered().size(), 1U) << "write " << writes;
    society_.Close(keeper);
    ASSERT_LT(writes, 100U);
  }
  EXPECT_GT(writes, 2U) << "a number of the folder, and what is stated again";
}

INSTANTIATE_TEST_SUITE_P(Endings, Mending, ::testing::Values(Ending::kKilled, Ending::kPowerLoss),
                         [](const auto& ending) {
                           return ending.param == Ending::kKilled ? "Killed" : "PowerLoss";
                         });

}  // namespace
}  // namespace broodpact::simulation
