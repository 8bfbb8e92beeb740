// Goal: base32 is that of RFC 4648, and every value has one form. Method: the vectors of the RFC,
// a law for the way there and back, and forms that must not be read.

#include "client/base/base32.h"

#include <algorithm>
#include <string>

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "tests/base/published.h"

namespace broodpact {
namespace {

// Source: RFC 4648, section 10; padding is left out here, and letters are small.
TEST(Base32, WritesAndReadsTheVectorsOfTheRfc) {
  for (const auto& each : PublishedCases("crypto/base32_bech32m.json", "base32")) {
    std::string text = TextAt(each, "base32");
    text.erase(std::remove(text.begin(), text.end(), '='), text.end());
    const std::string bytes = TextAt(each, "ascii");
    EXPECT_EQ(DecodeBase32(text), bytes) << each;
    for (char& c : text) c = static_cast<char>(c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c);
    EXPECT_EQ(EncodeBase32(bytes), text) << each;
    EXPECT_EQ(DecodeBase32(text), bytes) << each;
  }
}

RC_GTEST_PROP(Base32, ReadsBackWhatItWrites, (const std::string& bytes)) {
  RC_ASSERT(DecodeBase32(EncodeBase32(bytes)) == bytes);
}

// Two texts for one value would make two names for one thing.
RC_GTEST_PROP(Base32, ReadsOneSmallTextForAValueAlone, ()) {
  const auto text = *rc::gen::container<std::string>(rc::gen::elementOf(std::string("abz27")));
  if (const auto bytes = DecodeBase32(text)) RC_ASSERT(EncodeBase32(*bytes) == text);
}

TEST(Base32, RefusesForeignCharactersImpossibleLengthsAndUnusedBits) {
  for (const char* text : {"m!", "m1", "m8", "m=", "m ", "a", "aaa", "aaaaaa", "mz"}) {
    EXPECT_EQ(DecodeBase32(text), std::nullopt) << text;
  }
}

}  // namespace
}  // namespace broodpact
