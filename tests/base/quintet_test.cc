// Goal: bytes and quintets say the same bits. Method: a value worked out by hand, a law for the way
// there and back, and quintets that carry nothing.

#include "client/base/quintet.h"

#include <string>

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

namespace broodpact {
namespace {

using namespace std::string_literals;

// 11111111 00000001 = 11111 11100 00000 1(0000).
TEST(Quintets, AreTheBitsFiveByFiveWithZerosBehind) {
  EXPECT_EQ(QuintetsOfBytes("\xff\x01"), "\x1f\x1c\x00\x10"s);
  EXPECT_EQ(BytesOfQuintets("\x1f\x1c\x00\x10"s), "\xff\x01");
}

RC_GTEST_PROP(Quintets, ReadBackAsTheSameBytes, (const std::string& bytes)) {
  RC_ASSERT(BytesOfQuintets(QuintetsOfBytes(bytes)) == bytes);
}

TEST(Quintets, AreRefusedWhereOneIsTooManyOrItsSpareBitsAreSet) {
  EXPECT_EQ(BytesOfQuintets("\x01"s), std::nullopt);
  EXPECT_EQ(BytesOfQuintets("\x01\x00\x00"s), std::nullopt);
  EXPECT_EQ(BytesOfQuintets("\x1f\x1c\x00\x11"s), std::nullopt);
}

}  // namespace
}  // namespace broodpact
