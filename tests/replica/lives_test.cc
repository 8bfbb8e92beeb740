// Goal: a device begins a new life wherever somebody else may write in the present one, takes none
// of which there are commits, and states again what was said and not how. Method: keepers in
// temporary folders, of which parts are copied and put back between two openings.

#include <filesystem>

#include <gmock/gmock.h>

#include "client/facts/commit.h"
#include "tests/replica/testing/demand.h"
#include "tests/replica/testing/society.h"

namespace broodpact::replica {
namespace {

using testing::AddGroup;
using testing::Demand;
using testing::Society;

class Lives : public ::testing::Test {
 protected:
  Lives() {
    society_.Found("mira");
    society_.Enter("tomas");
  }

  // Copies a keeper's folder under another name.
  void Copy(const std::string& keeper, const std::string& copy) {
    society_.Close(keeper);
    std::filesystem::copy(society_.HomeOf(keeper).folder(), society_.HomeOf(copy).folder(),
                          std::filesystem::copy_options::recursive);
  }

  // Puts the files of another folder in the place of a keeper's, but not the database.
  void PutFilesBack(const std::string& from, const std::string& keeper) {
    society_.Close(keeper);
    for (const auto& entry : std::filesystem::directory_iterator(society_.HomeOf(from).folder())) {
      if (!entry.is_regular_file()) continue;
      std::filesystem::copy_file(entry.path(),
                                 society_.HomeOf(keeper).folder() / entry.path().filename(),
                                 std::filesystem::copy_options::overwrite_existing);
    }
  }

  // Puts the database of another folder in the place of a keeper's, and nothing else.
  void PutDatabaseBack(const std::string& from, const std::string& keeper) {
    society_.Close(keeper);
    society_.Close(from);
    std::filesystem::remove_all(society_.HomeOf(keeper).database());
    std::filesystem::copy(society_.HomeOf(from).database(), society_.HomeOf(keeper).database(),
                          std::filesystem::copy_options::recursive);
  }

  bool Knows(const std::string& keeper, const GroupId& group) {
    return Demand(registry::Read<registry::Group>(society_.At(keeper).view(), group)).has_value();
  }

  Society society_;
};

TEST_F(Lives, BeginAfterThoseOfWhichCommitsWait) {
  Copy("mira", "backup");
  ASSERT_TRUE(society_.HomeOf("mira").WriteInstall("of another folder").ok());
  ASSERT_EQ(society_.At("mira").identity().incarnation, 2U);
  const GroupId waits = AddGroup(society_, "mira", "waits");
  PutFilesBack("backup", "mira");
  EXPECT_EQ(society_.At("mira").identity().incarnation, 3U);
  const GroupId later = AddGroup(society_, "mira", "later");
  society_.Deliver();
  EXPECT_TRUE(Knows("tomas", waits));
  EXPECT_TRUE(Knows("tomas", later));
}

TEST_F(Lives, BeginWhereTheDatabaseCameToTheSamePlaceInAnotherFolder) {
  Copy("mira", "copy");
  AddGroup(society_, "mira", "here");
  AddGroup(society_, "copy", "there");
  PutDatabaseBack("copy", "mira");
  EXPECT_EQ(society_.At("mira").identity().incarnation, 2U);
}

TEST_F(Lives, GoOnWhereTheDatabaseIsTheOneThatWasLeft) {
  AddGroup(society_, "mira", "here");
  Copy("mira", "copy");
  PutDatabaseBack("copy", "mira");
  EXPECT_EQ(society_.At("mira").identity().incarnation, 1U);
}

// Two copies state the same commit again, each in what it takes for a life that nobody has, and one
// of them is second once more.
TEST_F(Lives, StateAgainWhatWasSaidFirstHoweverOftenItLosesItsPlace) {
  Copy("mira", "first");
  const GroupId group = AddGroup(society_, "first", "colima");
  const std::string said = society_.At("first").undelivered().back().signed_commit.bytes;
  Copy("first", "second");
  AddGroup(society_, "mira", "in the way");
  society_.Push("mira");
  society_.Pull("first");
  ASSERT_EQ(society_.At("first").identity().incarnation, 2U);
  society_.clock().Advance(1'000);
  society_.Pull("second");
  ASSERT_EQ(society_.At("second").identity().incarnation, 2U);
  society_.Push("first");
  society_.Pull("second");
  ASSERT_EQ(society_.At("second").identity().incarnation, 3U);

  const auto& waiting = society_.At("second").undelivered();
  ASSERT_EQ(waiting.size(), 1U);
  const auto* again = std::get_if<facts::Restatement>(&waiting.front().commit.statements.front());
  ASSERT_NE(again, nullptr);
  EXPECT_EQ(again->commit, said);
  EXPECT_TRUE(Knows("second", group));
}

}  // namespace
}  // namespace broodpact::replica
