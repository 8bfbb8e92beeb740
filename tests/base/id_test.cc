// Goal: an id survives being written down and typed. Method: a law for the way there and back, and
// texts that are no id.

#include "client/base/id.h"

#include <string>

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

namespace broodpact {
namespace {

RC_GTEST_PROP(Ids, ReadBackFromTheirText, ()) {
  IdBytes id;
  for (std::uint8_t& byte : id) byte = static_cast<std::uint8_t>(*rc::gen::inRange(0, 256));
  const std::string text = IdText(id);
  RC_ASSERT(text.size() == kIdTextSize);
  RC_ASSERT(ParseIdText(text) == id);
}

TEST(Ids, AreTwentySixCharactersWithTheFirstByteInFront) {
  AnimalId id;
  EXPECT_TRUE(id.empty());
  id.bytes[0] = 0xff;
  EXPECT_FALSE(id.empty());
  EXPECT_EQ(ToText(id), "74aaaaaaaaaaaaaaaaaaaaaaaa");
  EXPECT_EQ(ToShortText(id), "74aaaaaa");
  EXPECT_EQ(ParseIdText("74AAAAAAAAAAAAAAAAAAAAAAAA"), id.bytes);
}

TEST(Ids, AreOrderedAsTheirBytes) {
  AnimalId low;
  AnimalId high;
  low.bytes[15] = 0xff;
  high.bytes[0] = 1;
  EXPECT_LT(low, high);
}

TEST(Ids, AreNotReadFromTextOfAnotherLengthOrWithSpareBits) {
  EXPECT_EQ(ParseIdText(""), std::nullopt);
  EXPECT_EQ(ParseIdText("74aaaaaaaaaaaaaaaaaaaaaaa"), std::nullopt);
  EXPECT_EQ(ParseIdText("74aaaaaaaaaaaaaaaaaaaaaaaaa"), std::nullopt);
  EXPECT_EQ(ParseIdText("74aaaaaaaaaaaaaaaaaaaaaaab"), std::nullopt);
  EXPECT_EQ(ParseIdText("74aaaaaaaaaaaaaaaaaaaaaaa0"), std::nullopt);
}

TEST(Ids, TakeSixteenBytesOnly) {
  EXPECT_TRUE(IdOfBytes(std::string(16, 'x')).has_value());
  EXPECT_EQ(IdOfBytes(std::string(15, 'x')), std::nullopt);
  EXPECT_EQ(IdOfBytes(std::string(17, 'x')), std::nullopt);
}

}  // namespace
}  // namespace broodpact
