// Goal: a broken promise of ours stops the process, in every build. Method: break one.

#include "client/base/check.h"

#include <gtest/gtest.h>

namespace broodpact {
namespace {

TEST(CheckDeathTest, StopsTheProcessAndNamesTheCondition) {
  const int slings = 2;
  BP_CHECK(slings == 2);
  EXPECT_DEATH(BP_CHECK(slings == 3), "check_test.cc:[0-9]+: check failed: slings == 3");
}

}  // namespace
}  // namespace broodpact
