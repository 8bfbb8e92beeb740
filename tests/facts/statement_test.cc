// Goal: the message by which an invite lets a device in is fixed. Method: its bytes by hand.

#include "client/facts/statement.h"

#include <string>

#include <gtest/gtest.h>

namespace broodpact::facts {
namespace {

TEST(JoiningMessage, IsThePurposeThenCooperativeKeeperAndKey) {
  Hash cooperative{};
  cooperative.fill(0xc0);
  KeeperId keeper;
  keeper.bytes.fill(0x0e);
  PublicKey key{};
  key.fill(0x4e);
  EXPECT_EQ(JoiningMessage(cooperative, keeper, key),
            std::string("broodpact joining v1") + '\0' + std::string(32, '\xc0') +
                std::string(16, '\x0e') + std::string(32, '\x4e'));
}

}  // namespace
}  // namespace broodpact::facts
