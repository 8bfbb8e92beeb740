// Goal: hashes are SHA-256, whoever asks and in whatever pieces. Method: published digests, a law
// for parts, and several threads at once.

#include "client/base/hash.h"

#include <string>
#include <thread>
#include <vector>

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "tests/base/published.h"

namespace broodpact {
namespace {

std::string MessageOf(const nlohmann::json& each) {
  if (each.contains("message_hex")) return BytesAt(each, "message_hex");
  return std::string(each.at("repeat").get<std::size_t>(), BytesAt(each, "repeat_byte_hex")[0]);
}

// Source: FIPS 180-4 examples and NIST CAVP SHA256ShortMsg; see the file.
TEST(Sha256, IsThePublishedOne) {
  for (const auto& each : PublishedCases("crypto/sha256.json")) {
    EXPECT_EQ(ToHex(Sha256(MessageOf(each))), TextAt(each, "sha256")) << TextAt(each, "name");
  }
}

RC_GTEST_PROP(Sha256, OfPartsIsThatOfTheWhole,
              (const std::string& first, const std::string& second)) {
  RC_ASSERT(Sha256({first, second}) == Sha256(first + second));
}

// The context is reused within a thread, and never shared between two.
TEST(Sha256, IsTheSameInEveryThread) {
  const Hash due = Sha256("hamorii-colima");
  std::vector<int> wrong(4, 0);
  std::vector<std::thread> threads;
  threads.reserve(wrong.size());
  for (int& count : wrong) {
    threads.emplace_back([&count, &due] {
      for (int i = 0; i < 1000; ++i) count += Sha256("hamorii-colima") == due ? 0 : 1;
    });
  }
  for (std::thread& thread : threads) thread.join();
  EXPECT_EQ(wrong, std::vector<int>(4, 0));
}

RC_GTEST_PROP(Hexadecimal, ReadsBackWhatItWrites, (const std::string& bytes)) {
  const std::string text = BytesToHex(bytes);
  RC_ASSERT(text.find_first_not_of("0123456789abcdef") == std::string::npos);
  RC_ASSERT(HexToBytes(text) == bytes);
}

TEST(Hexadecimal, IsReadInEitherCaseAndRefusedWhereItIsNotPairsOfDigits) {
  EXPECT_EQ(HexToBytes("aF09"), "\xaf\x09");
  for (const char* text : {"a", "abc", "0g", "g0", " 0", "0x"}) {
    EXPECT_EQ(HexToBytes(text), std::nullopt) << text;
  }
}

TEST(Hash, TakesThirtyTwoBytesOnly) {
  const Hash hash = Sha256("");
  EXPECT_EQ(HashOfBytes(ViewOf(hash)), hash);
  EXPECT_EQ(HashOfBytes(ViewOf(hash).substr(1)), std::nullopt);
  EXPECT_EQ(HashOfBytes(std::string(33, 'x')), std::nullopt);
}

TEST(Hash, NamesThingsByItsFirstHalf) {
  const Hash hash = Sha256("lot");
  EXPECT_EQ(BytesToHex(ViewOf(FirstHalf<LotId>(hash).bytes)), ToHex(hash).substr(0, 32));
}

}  // namespace
}  // namespace broodpact
