// Goal: a verdict is stored and read back as it was.
// Method: every kind, and bytes that are none.

#include "client/registry/verdict.h"

#include "gtest/gtest.h"

namespace broodpact::registry {
namespace {

TEST(Verdict, IsReadBackAsItWasWritten) {
  for (int kind = 1; kind <= 5; ++kind) {
    const Verdict verdict{.kind = static_cast<VerdictKind>(kind),
                          .reason = "NAME_TAKEN",
                          .message = "take another name",
                          .winner_arrival = std::uint64_t{1} << 60};
    EXPECT_EQ(DecodeVerdict(Encode(verdict)), verdict);
  }
  EXPECT_EQ(DecodeVerdict(Encode(Verdict{})), Verdict{});
}

TEST(Verdict, BytesThatAreNoneAreNotRead) {
  const std::string bytes = Encode(Verdict{.reason = "NAME_TAKEN"});
  for (std::size_t size = 0; size < bytes.size(); ++size) {
    EXPECT_EQ(DecodeVerdict(bytes.substr(0, size)), std::nullopt) << size;
  }
  EXPECT_EQ(DecodeVerdict(bytes + "x"), std::nullopt);
  std::string other = bytes;
  other[0] = 2;
  EXPECT_EQ(DecodeVerdict(other), std::nullopt) << "another format";
  other = bytes;
  other[1] = 0;
  EXPECT_EQ(DecodeVerdict(other), std::nullopt) << "kind below";
  other[1] = 6;
  EXPECT_EQ(DecodeVerdict(other), std::nullopt) << "kind above";
}

}  // namespace
}  // namespace broodpact::registry
