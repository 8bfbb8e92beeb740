// Goal: a bundle is read as it was written; what is cut, damaged or hostile gets one clear error
// and costs no more than a block, and what is before the fault is good. Method: the way there and
// back, every cut and every flipped bit of a small bundle, and bombs made by hand.

#include "client/sync/bundle.h"

#include <sstream>

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "client/base/status.h"
#include "client/sync/chunk.h"

namespace broodpact::sync {
namespace {

BundleHeader SomeHeader() {
  BundleHeader header{.cooperative = Sha256("cooperative"), .time_ms = -7};
  header.writer.bytes.fill(3);
  return header;
}

BundleFrontier SomeFrontier() {
  BundleFrontier frontier{.point = {.arrivals = 300, .log_hash = Sha256("log")}};
  for (std::uint32_t i = 1; i < 4; ++i) {
    facts::ChainId chain{.incarnation = i};
    chain.device.bytes.fill(static_cast<std::uint8_t>(i));
    frontier.chains.push_back({chain, {.seq = std::uint64_t{1'000} * i, .hash = Sha256("head")}});
  }
  return frontier;
}

Epochs SomeEpochs() {
  Epoch epoch;
  epoch.epoch = 2;
  epoch.common.arrivals = 7;
  epoch.lost_arrivals = 9;
  return {epoch};
}

Head SomeHead() {
  Head head;
  head.epoch = 2;
  head.point = {.arrivals = 300, .log_hash = Sha256("log")};
  head.tree_root = Sha256("root");
  head.time_ms = 1'000;
  head.signature.fill(9);
  head.server_key.fill(8);
  return head;
}

std::vector<facts::SignedCommit> SomeMail() {
  std::vector<facts::SignedCommit> mail = {{.bytes = "one"}, {.bytes = std::string(300, 'x')}};
  mail[0].signature.fill(1);
  mail[1].signature.fill(2);
  return mail;
}

std::string SomeBundle() {
  std::ostringstream out;
  BundleWriter writer(out, SomeHeader());
  writer.Add(SomeFrontier());
  writer.Add(SomeEpochs());
  writer.Add(SomeHead());
  writer.Add(BundleLog{.arrivals_before = 12, .records = "records"});
  writer.Add(SomeMail());
  writer.Finish();
  return out.str();
}

// How many blocks are read, and the reason why no more; empty at the end.
struct Reading {
  std::size_t blocks = 0;
  std::string reason;
};

Reading ReadAll(const std::string& bytes) {
  std::istringstream in(bytes);
  BundleReader reader(in);
  Reading reading;
  while (true) {
    const auto block = reader.Next();
    if (!block.ok()) {
      reading.reason = ReasonOf(block.status());
      return reading;
    }
    if (!*block) return reading;
    ++reading.blocks;
  }
}

TEST(Bundle, IsReadAsItWasWritten) {
  std::istringstream in(SomeBundle());
  BundleReader reader(in);
  EXPECT_EQ((*reader.Next())->header, SomeHeader());
  EXPECT_EQ((*reader.Next())->frontier, SomeFrontier());
  EXPECT_EQ((*reader.Next())->epochs, SomeEpochs());
  EXPECT_EQ((*reader.Next())->head, SomeHead());
  EXPECT_EQ((*reader.Next())->log, (BundleLog{.arrivals_before = 12, .records = "records"}));
  const std::vector<facts::SignedCommit> mail = (*reader.Next())->mail;
  ASSERT_EQ(mail.size(), 2U);
  EXPECT_EQ(mail[0].bytes, "one");
  EXPECT_EQ(mail[1].signature, SomeMail()[1].signature);
  EXPECT_FALSE(reader.Next()->has_value());
  EXPECT_FALSE(reader.Next()->has_value()) << "it stays at its end";
}

TEST(Bundle, TellsInSeveralBlocksWhatMoreChainsThereAreThanOneHolds) {
  BundleFrontier frontier = SomeFrontier();
  for (std::uint32_t i = 0; i < 90'000; ++i) {
    frontier.chains.push_back({{.incarnation = i}, {.seq = 1, .hash = Sha256("head")}});
  }
  std::ostringstream out;
  BundleWriter writer(out, SomeHeader());
  writer.Add(frontier);
  writer.Finish();
  std::istringstream in(out.str());
  BundleReader reader(in);
  ASSERT_TRUE((*reader.Next())->header.has_value());
  BundleFrontier read = (*reader.Next())->frontier.value();
  const BundleFrontier rest = (*reader.Next())->frontier.value();
  EXPECT_EQ(rest.point, read.point);
  read.chains.insert(read.chains.end(), rest.chains.begin(), rest.chains.end());
  EXPECT_TRUE(read == frontier);
  EXPECT_FALSE(reader.Next()->has_value());
}

TEST(Bundle, IsGoodUpToWhereItIsCut) {
  const std::string whole = SomeBundle();
  ASSERT_EQ(ReadAll(whole).blocks, 6U);
  std::size_t blocks = 0;
  for (std::size_t size = 0; size < whole.size(); ++size) {
    const Reading reading = ReadAll(whole.substr(0, size));
    EXPECT_EQ(reading.reason, size < 19 ? "BUNDLE_FORM" : "BUNDLE_CUT") << size;
    EXPECT_GE(reading.blocks, blocks) << "what is whole stays whole";
    blocks = reading.blocks;
  }
}

TEST(Bundle, TellsEveryBitThatWasChanged) {
  const std::string whole = SomeBundle();
  for (std::size_t at = 0; at < whole.size(); ++at) {
    std::string changed = whole;
    changed[at] = static_cast<char>(changed[at] ^ (1 << (at % 8)));
    EXPECT_NE(ReadAll(changed).reason, "") << at;
  }
}

TEST(Bundle, PassesOverBlocksOfANewerKind) {
  // The same bundle with a block of kind 'Z' before its end, its checks by the rule.
  const std::string whole = SomeBundle();
  const std::string body = whole.substr(0, whole.size() - 13);
  std::string check = body.substr(body.size() - 8);
  const auto block = [&check](char kind, const std::string& packed) {
    std::string bytes(1, kind);
    for (int shift = 24; shift >= 0; shift -= 8) {
      bytes.push_back(static_cast<char>((packed.size() >> shift) & 0xFF));
    }
    const Hash hash = Sha256({check, bytes, packed});
    check = std::string(ViewOf(hash).substr(0, 8));
    return bytes + packed + check;
  };
  std::string newer = body + block('Z', PackRecords("of a later version"));
  newer += block('E', "");
  const Reading reading = ReadAll(newer);
  EXPECT_EQ(reading.reason, "");
  EXPECT_EQ(reading.blocks, 7U);
}

TEST(Bundle, IsRefusedWhereItIsNone) {
  EXPECT_EQ(ReadAll("").reason, "BUNDLE_FORM");
  EXPECT_EQ(ReadAll(std::string(1'000, 'x')).reason, "BUNDLE_FORM");
  EXPECT_EQ(ReadAll("broodpact bundle 2\n" + SomeBundle()).reason, "BUNDLE_FORM");
  const std::string whole = SomeBundle();
  // Without its header nobody knows whose it is; its checks do not hold then either.
  EXPECT_NE(ReadAll(whole.substr(0, 19) + whole.substr(100)).reason, "");
}

TEST(Bundle, DoesNotBelieveTheSizeOfABomb) {
  const std::string beginning = "broodpact bundle 1\n";
  EXPECT_EQ(ReadAll(beginning + "M\xff\xff\xff\xff" + std::string(100, 'x')).reason,
            "BUNDLE_TOO_LARGE");
  // A frame of a few bytes that says it unpacks to a lot.
  const std::string bomb = PackRecords(std::string(kBundleBlockBytesMax + 1, '\0'));
  ASSERT_LT(bomb.size(), 10'000U);
  std::string bytes = "M";
  for (int shift = 24; shift >= 0; shift -= 8) {
    bytes.push_back(static_cast<char>((bomb.size() >> shift) & 0xFF));
  }
  const Hash check = Sha256({std::string(8, '\0'), bytes, bomb});
  EXPECT_EQ(ReadAll(beginning + bytes + bomb + std::string(ViewOf(check).substr(0, 8))).reason,
            "BUNDLE_TOO_LARGE");
}

RC_GTEST_PROP(Bundle, EndsWithAReasonWhateverItsBytes, ()) {
  std::string bytes = SomeBundle();
  const auto changes = *rc::gen::inRange(1, 6);
  for (int i = 0; i < changes; ++i) {
    bytes[*rc::gen::inRange<std::size_t>(0, bytes.size())] = *rc::gen::arbitrary<char>();
  }
  const Reading reading = ReadAll(bytes);
  RC_ASSERT(reading.reason.empty() == (bytes == SomeBundle()));
}

}  // namespace
}  // namespace broodpact::sync
