// Goal: the small files beside the database say who and how far, and a broken one says nothing.
// Method: written and read back; then all sorts of nonsense in their place.

#include "client/store/internal/holder.h"

#include <fstream>

#include "gmock/gmock.h"
#include "gtest/gtest.h"

#include "tests/store/trial_log.h"
#include <unistd.h>

namespace broodpact::store {
namespace {

TEST(Holder, NamesTheProgramTheProcessAndTheTimeOfDay) {
  const TempFolder folder;
  WriteHolder(folder.path());
  EXPECT_THAT(HolderText(folder.path()),
              testing::MatchesRegex("another store_tests \\(process " + std::to_string(getpid()) +
                                    ", since [0-9][0-9]:[0-9][0-9]\\)"));
  RemoveHolder(folder.path());
  EXPECT_EQ(HolderText(folder.path()), "another process");
}

TEST(Holder, IsAnotherProcessWhereTheFileSaysNothing) {
  const TempFolder folder;
  std::ofstream(folder.path() / "holder") << "nonsense";
  EXPECT_EQ(HolderText(folder.path()), "another process");
}

TEST(HeadFile, ReadsBack) {
  const TempFolder folder;
  const facts::LogPoint point{.arrivals = 12'345'678'901, .log_hash = Sha256("head")};
  WriteHeadFile(folder.path(), point);
  EXPECT_EQ(ReadHeadFile(folder.path()), point);
}

TEST(HeadFile, IsIgnoredWhereItIsCutShortOrMissing) {
  const TempFolder folder;
  EXPECT_FALSE(ReadHeadFile(folder.path()).has_value());
  for (const char* text : {"", "5", "5 ab", "five abcd", "-"}) {
    std::ofstream(folder.path() / "head", std::ios::trunc) << text;
    EXPECT_FALSE(ReadHeadFile(folder.path()).has_value()) << text;
  }
}

}  // namespace
}  // namespace broodpact::store
