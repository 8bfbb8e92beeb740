// Goal: invite codes are Bech32m, and a slip of the pen is found. Method: the vectors of BIP-350, a
// law for the way there and back, and a law that spoils one character.

#include "client/base/bech32m.h"

#include <algorithm>
#include <string>

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "tests/base/published.h"

namespace broodpact {
namespace {

constexpr const char* kVectors = "crypto/base32_bech32m.json";

std::string PrefixOf(const std::string& text) {
  std::string prefix = text.substr(0, text.rfind('1'));
  for (char& c : prefix) c = static_cast<char>(c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c);
  return prefix;
}

// Source: BIP-350 (Wuille, 2020), test vectors. One of them holds 82 quintets of ones, which are
// no whole number of bytes: a valid checksum over what this project does not write.
TEST(Bech32m, ReadsTheValidVectorsOfTheBip) {
  for (const auto& each : PublishedCases(kVectors, "bech32m_valid")) {
    const std::string text = TextAt(each, "text");
    const bool whole_bytes = text.substr(0, 3) != "11l";
    EXPECT_EQ(DecodeBech32m(PrefixOf(text), text).has_value(), whole_bytes) << text;
  }
}

// Source: as above.
TEST(Bech32m, RefusesTheInvalidVectorsOfTheBip) {
  for (const auto& each : PublishedCases(kVectors, "bech32m_invalid")) {
    const std::string text = TextAt(each, "text");
    EXPECT_EQ(DecodeBech32m(PrefixOf(text), text), std::nullopt) << each;
  }
}

// Source: computed with another implementation; see the file.
TEST(Bech32m, WritesWhatAnotherImplementationWrites) {
  for (const auto& each : PublishedCases(kVectors, "encode_bech32m")) {
    EXPECT_EQ(EncodeBech32m(TextAt(each, "hrp"), BytesAt(each, "bytes")), TextAt(each, "text"));
  }
}

RC_GTEST_PROP(Bech32m, ReadsBackWhatItWrites, (const std::string& bytes)) {
  const std::string text = EncodeBech32m("brood1", bytes);
  RC_ASSERT(DecodeBech32m("brood1", text) == bytes);
  RC_ASSERT(DecodeBech32m("brood", text) == std::nullopt);
}

RC_GTEST_PROP(Bech32m, FindsOneWrongCharacterWhereverItIs, (const std::string& bytes)) {
  std::string text = EncodeBech32m("brood", bytes);
  const auto place = *rc::gen::inRange<std::size_t>(0, text.size());
  const char wrong = *rc::gen::elementOf(std::string("qpzry9x8gf2tvdw0s3jn54khce6mua7l1bio"));
  RC_PRE(text[place] != wrong);
  text[place] = wrong;
  RC_ASSERT(DecodeBech32m("brood", text) == std::nullopt);
}

TEST(Bech32m, ReadsCapitalsButNoMixture) {
  std::string text = EncodeBech32m("brood", "terms");
  const std::string small = text;
  std::transform(text.begin(), text.end(), text.begin(), [](char c) {
    return static_cast<char>(c >= 'a' && c <= 'z' ? c - 'a' + 'A' : c);
  });
  EXPECT_EQ(DecodeBech32m("brood", text), "terms");
  text.replace(0, 5, "brood");
  EXPECT_EQ(DecodeBech32m("brood", text), std::nullopt);
  EXPECT_EQ(DecodeBech32m("brood", small), "terms");
}

}  // namespace
}  // namespace broodpact
