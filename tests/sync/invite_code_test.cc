// Goal: an invite code brings all that a newcomer needs, and one that is mistyped is never taken
// for another. Method: laws for the way there and back and for a spoilt character; examples.

#include "client/sync/invite_code.h"

#include <algorithm>
#include <cctype>
#include <string>

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "client/base/bech32m.h"
#include "client/base/status.h"

namespace broodpact::sync {
namespace {

InviteCode AnyCode() {
  InviteCode code;
  code.cooperative = Sha256("hamorii");
  code.authority = Sha256("authority");
  code.secret = "0123456789abcdef";
  code.address = "registry.example.org:7443";
  return code;
}

void ExpectSame(const InviteCode& one, const InviteCode& other) {
  EXPECT_EQ(one.cooperative, other.cooperative);
  EXPECT_EQ(one.authority, other.authority);
  EXPECT_EQ(one.secret, other.secret);
  EXPECT_EQ(one.address, other.address);
}

RC_GTEST_PROP(InviteCode, IsReadAsItWasBuilt, ()) {
  InviteCode code = AnyCode();
  code.cooperative = *rc::gen::arbitrary<Hash>();
  code.authority = *rc::gen::arbitrary<Hash>();
  code.secret = *rc::gen::container<std::string>(kSecretSize, rc::gen::arbitrary<char>());
  const auto parsed = ParseInviteCode(BuildInviteCode(code));
  RC_ASSERT(parsed.ok());
  ExpectSame(*parsed, code);
}

RC_GTEST_PROP(InviteCode, WithOneCharacterChangedIsRefused, ()) {
  const std::string text = BuildInviteCode(AnyCode());
  std::string spoilt = text;
  const auto at = *rc::gen::inRange<std::size_t>(0, text.size());
  spoilt[at] = *rc::gen::elementOf(std::string("qpzry9x8gf2tvdw0s3jn54khce6mua7l1-BO"));
  RC_PRE(spoilt != text);
  RC_ASSERT(ReasonOf(ParseInviteCode(spoilt).status()) == "INVITE_CODE");
}

RC_GTEST_PROP(InviteCode, CutShortIsRefused, ()) {
  const std::string text = BuildInviteCode(AnyCode());
  const auto size = *rc::gen::inRange<std::size_t>(0, text.size());
  RC_ASSERT(ReasonOf(ParseInviteCode(text.substr(0, size)).status()) == "INVITE_CODE");
}

TEST(InviteCode, IsReadOverBrokenLinesAndInCapitals) {
  std::string text = BuildInviteCode(AnyCode());
  text.insert(40, "\r\n  ");
  std::ranges::transform(text, text.begin(),
                         [](unsigned char c) { return static_cast<char>(std::toupper(c)); });
  const auto parsed = ParseInviteCode(" " + text + "\n");
  ASSERT_TRUE(parsed.ok()) << parsed.status();
  ExpectSame(*parsed, AnyCode());
}

TEST(InviteCode, OfANewerFormatSaysSo) {
  const auto parsed = ParseInviteCode(EncodeBech32m("broodpact", "\x04 whatever follows"));
  EXPECT_EQ(ReasonOf(parsed.status()), "INVITE_CODE_NEWER");
}

TEST(InviteCode, WithAnAddressThatIsNoneIsRefused) {
  for (const char* address : {"no port", "unix:/run/socket", "host:99999"}) {
    InviteCode code = AnyCode();
    code.address = address;
    EXPECT_EQ(ReasonOf(ParseInviteCode(BuildInviteCode(code)).status()), "INVITE_CODE") << address;
  }
}

TEST(InviteCode, OfEndlessTextIsRefusedUnread) {
  EXPECT_EQ(ReasonOf(ParseInviteCode(std::string(1U << 20U, 'q')).status()), "INVITE_CODE");
}

TEST(InviteSeed, DependsOnCooperativeAndSecret) {
  const Hash one = InviteSeed(Sha256("a"), "0123456789abcdef");
  EXPECT_NE(one, InviteSeed(Sha256("b"), "0123456789abcdef"));
  EXPECT_NE(one, InviteSeed(Sha256("a"), "0123456789abcdeg"));
  EXPECT_EQ(one, InviteSeed(Sha256("a"), "0123456789abcdef"));
}

}  // namespace
}  // namespace broodpact::sync
