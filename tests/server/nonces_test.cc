// Goal: only a nonce that was made here, a moment ago, passes. Method: a law that changes a bit,
// and a clock by hand.

#include "server/nonces.h"

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

namespace broodpact::server {
namespace {

constexpr std::int64_t kNow = 1'800'000'000'000;

TEST(Nonces, AreGoodForAMinute) {
  const Nonces nonces(device::SystemRandomness());
  const std::string nonce = nonces.Make(kNow);
  EXPECT_EQ(nonce.size(), kNonceSize);
  EXPECT_TRUE(nonces.IsFresh(nonce, kNow));
  EXPECT_TRUE(nonces.IsFresh(nonce, kNow + kNonceMillis));
  EXPECT_FALSE(nonces.IsFresh(nonce, kNow + kNonceMillis + 1));
  EXPECT_FALSE(nonces.IsFresh(nonce, kNow - 1));
}

TEST(Nonces, AreOfOneProcess) {
  const Nonces here(device::SystemRandomness());
  const Nonces there(device::SystemRandomness());
  EXPECT_FALSE(there.IsFresh(here.Make(kNow), kNow));
  EXPECT_NE(here.Make(kNow), here.Make(kNow));
}

RC_GTEST_PROP(Nonces, WithOneBitChangedAreRefused, ()) {
  const Nonces nonces(device::SystemRandomness());
  std::string nonce = nonces.Make(kNow);
  const auto at = *rc::gen::inRange<std::size_t>(0, nonce.size());
  nonce[at] = static_cast<char>(nonce[at] ^ (1 << *rc::gen::inRange(0, 8)));
  RC_ASSERT(!nonces.IsFresh(nonce, kNow));
}

TEST(Nonces, OfAnotherLengthAreRefused) {
  const Nonces nonces(device::SystemRandomness());
  EXPECT_FALSE(nonces.IsFresh("", kNow));
  EXPECT_FALSE(nonces.IsFresh(nonces.Make(kNow) + "x", kNow));
}

}  // namespace
}  // namespace broodpact::server
