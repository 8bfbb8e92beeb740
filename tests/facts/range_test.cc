// Goal: nothing in a range is believed that its authors did not sign in that order. Method: a log
// of two authors, laws that spoil it anywhere, and each fault by itself.

#include "client/facts/range.h"

#include <initializer_list>
#include <string>
#include <utility>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "client/base/status.h"
#include "tests/facts/any_chain.h"

namespace broodpact::facts {
namespace {

using ::testing::HasSubstr;

// Knows nothing of before the range.
RangeContext Nothing(const Hash& cooperative) {
  return {.head_of = [](const ChainId&) { return ChainHead{}; },
          .key_of = [](const DeviceId&) { return std::optional<PublicKey>(); },
          .cooperative = cooperative};
}

Range Begin(const TrialLog& log) {
  return {.before = {.arrivals = 0, .log_hash = log.cooperative}};
}

using Heads = std::map<ChainId, ChainHead>;

// Reads and checks a log from its beginning.
absl::StatusOr<Heads> Check(const TrialLog& log) {
  Range range = Begin(log);
  BP_RETURN_IF_ERROR(ReadOnto(range, log.Records()));
  return CheckRange(range, Nothing(log.cooperative));
}

std::string ReasonOfCheck(const TrialLog& log) {
  return ReasonOf(Check(log).status());
}

void Drop(TrialLog& log, std::size_t i) {
  log.commits.erase(log.commits.begin() + static_cast<std::ptrdiff_t>(i));
  log.signatures.erase(log.signatures.begin() + static_cast<std::ptrdiff_t>(i));
}

void Swap(TrialLog& log, std::size_t i, std::size_t j) {
  std::swap(log.commits[i], log.commits[j]);
  std::swap(log.signatures[i], log.signatures[j]);
}

TEST(Range, IsGoodWithOneSignatureAChain) {
  TrialLog log = LogOfTwo(6);
  for (std::size_t i = 0; i < 6; ++i) log.signatures[i] = std::nullopt;
  const auto heads = Check(log);
  ASSERT_TRUE(heads.ok()) << heads.status();
  ASSERT_EQ(heads->size(), 2U);
  for (const auto& [chain, head] : *heads) EXPECT_EQ(head.seq, 4U);
}

TEST(Range, SaysWhereTheLogStands) {
  const TrialLog log = LogOfTwo(1);
  Range range = Begin(log);
  ASSERT_TRUE(ReadOnto(range, log.Records()).ok());
  Hash due = log.cooperative;
  for (std::size_t i = 0; i < 3; ++i) {
    due =
        NextLogHash(due, Sha256(log.commits[i]), {.time_ms = 1000 + static_cast<std::int64_t>(i)});
    EXPECT_EQ(range.arrivals[i].arrival, i + 1);
    EXPECT_EQ(range.arrivals[i].commit.hash, Sha256(log.commits[i]));
    EXPECT_EQ(range.bytes[i], log.commits[i]);
  }
  EXPECT_EQ(range.after, (LogPoint{.arrivals = 3, .log_hash = due}));
}

RC_GTEST_PROP(Range, IsTheSameInWhateverPiecesItIsRead, ()) {
  const TrialLog log = LogOfTwo(4);
  Range whole = Begin(log);
  RC_ASSERT(ReadOnto(whole, log.Records()).ok());

  TrialLog head = log;
  const auto cut = *rc::gen::inRange<std::size_t>(1, log.commits.size());
  head.commits.resize(cut);
  head.signatures.resize(cut);
  Range pieces = Begin(log);
  RC_ASSERT(ReadOnto(pieces, head.Records()).ok());
  RC_ASSERT(ReadOnto(pieces, "").ok());
  RC_ASSERT(ReadOnto(pieces, log.Records(cut + 1)).ok());
  RC_ASSERT(pieces.after == whole.after);
  RC_ASSERT(pieces.bytes == whole.bytes);
  RC_ASSERT(CheckRange(pieces, Nothing(log.cooperative)).ok());
}

TEST(Range, GoesOnFromWhatWasCheckedBefore) {
  const TrialLog log = LogOfTwo(6);
  TrialLog first = log;
  first.commits.resize(4);
  first.signatures.resize(4);
  Range begin = Begin(log);
  ASSERT_TRUE(ReadOnto(begin, first.Records()).ok());
  const Heads heads = CheckRange(begin, Nothing(log.cooperative)).value();

  Range rest = {.before = begin.after};
  ASSERT_TRUE(ReadOnto(rest, log.Records(5)).ok());
  RangeContext context = Nothing(log.cooperative);
  EXPECT_EQ(ReasonOf(CheckRange(rest, context).status()), "CHAIN_HOLE");
  context.head_of = [&heads](const ChainId& chain) { return heads.at(chain); };
  EXPECT_EQ(ReasonOf(CheckRange(rest, context).status()), "DEVICE_UNKNOWN");
  context.key_of = [](const DeviceId& device) {
    for (const std::uint8_t number : std::initializer_list<std::uint8_t>{1, 2}) {
      const PublicKey key = KeyOfDevice(number).public_key();
      if (DeviceOf(key) == device) return std::optional<PublicKey>(key);
    }
    return std::optional<PublicKey>();
  };
  EXPECT_TRUE(CheckRange(rest, context).ok());
}

// Whatever byte of whatever commit is changed: it is not read, or not believed.
RC_GTEST_PROP(Range, IsRefusedWithAnyBitFlipped, ()) {
  TrialLog log = LogOfTwo(4);
  std::string& commit = log.commits[*rc::gen::inRange<std::size_t>(0, log.commits.size())];
  char& byte = commit[*rc::gen::inRange<std::size_t>(0, commit.size())];
  byte = static_cast<char>(byte ^ (1 << *rc::gen::inRange(0, 8)));
  RC_ASSERT(!Check(log).ok());
}

RC_GTEST_PROP(Range, IsRefusedWithAnyBitOfALastSignatureFlipped, ()) {
  TrialLog log = LogOfTwo(4);
  Signature& signature =
      *log.signatures[log.signatures.size() - *rc::gen::element<std::size_t>(1, 2)];
  signature[*rc::gen::inRange<std::size_t>(0, 64)] ^=
      static_cast<std::uint8_t>(1 << *rc::gen::inRange(0, 8));
  RC_ASSERT(ReasonOfCheck(log) == "SIGNATURE_BAD");
}

RC_GTEST_PROP(Range, IsRefusedWithACommitDroppedUnlessItEndsItsChain, ()) {
  TrialLog log = LogOfTwo(5);
  const auto i = *rc::gen::inRange<std::size_t>(0, log.commits.size() - 2);
  Drop(log, i);
  RC_ASSERT(ReasonOfCheck(log) == (i == 0 ? "COOPERATIVE_OTHER" : "CHAIN_HOLE"));
}

RC_GTEST_PROP(Range, IsRefusedWithTwoCommitsOfAChainSwapped, ()) {
  TrialLog log = LogOfTwo(6);
  const auto i = *rc::gen::inRange<std::size_t>(1, log.commits.size() - 2);
  Swap(log, i, i + 2);
  RC_ASSERT(ReasonOfCheck(log) == "CHAIN_HOLE");
}

TEST(Range, IsRefusedWithACommitTwice) {
  TrialLog log = LogOfTwo(4);
  log.commits.push_back(log.commits[3]);
  log.signatures.push_back(log.signatures[3]);
  EXPECT_EQ(ReasonOfCheck(log), "CHAIN_FORK");
}

TEST(Range, IsRefusedWhereAChainEndsWithoutSignature) {
  TrialLog log = LogOfTwo(4);
  log.signatures[4] = std::nullopt;
  EXPECT_EQ(ReasonOfCheck(log), "SIGNATURE_MISSING");
  EXPECT_THAT(std::string(Check(log).status().message()), HasSubstr("arrival 5"));
}

TEST(Range, IsRefusedWithTheSignatureOfAnotherCommit) {
  TrialLog log = LogOfTwo(4);
  log.signatures[4] = log.signatures[2];
  EXPECT_EQ(ReasonOfCheck(log), "SIGNATURE_BAD");
}

TEST(Range, IsRefusedInAnotherCooperative) {
  TrialLog log = LogOfTwo(2);
  log.cooperative = Sha256("another");
  EXPECT_EQ(ReasonOfCheck(log), "COOPERATIVE_OTHER");

  TrialLog mixed = LogOfTwo(2);
  Author stranger(3, Sha256("another"));
  mixed.commits.push_back(stranger.Write({AnyMoult(0)}));
  mixed.signatures.emplace_back(stranger.Sign());
  EXPECT_EQ(ReasonOfCheck(mixed), "COOPERATIVE_OTHER");
}

TEST(Range, IsRefusedWithADeviceThatNobodyLetIn) {
  TrialLog log = LogOfTwo(2);
  Author stranger(3, log.cooperative);
  log.commits.push_back(stranger.Write({AnyMoult(0)}));
  log.signatures.emplace_back(stranger.Sign());
  EXPECT_EQ(ReasonOfCheck(log), "DEVICE_UNKNOWN");
}

// A key that somebody else brings is of no use to a device whose id is not its hash.
TEST(Range, TakesNoKeyThatDoesNotHashToTheDevice) {
  TrialLog log = LogOfTwo(2);
  Author stranger(3, log.cooperative);
  Author liar(4, log.cooperative);
  Joining joining = {.keeper_name = "bela", .device_key = liar.public_key()};
  joining.keeper.bytes.back() = 3;
  joining.invite_key.fill(9);
  joining.invite_signature.fill(9);
  log.commits.push_back(stranger.Write({joining}));
  log.signatures.emplace_back(stranger.Sign());
  EXPECT_EQ(ReasonOfCheck(log), "DEVICE_UNKNOWN");
}

TEST(Range, IsRefusedWhereTimeGoesBack) {
  const TrialLog log = LogOfTwo(0);
  std::string records;
  AppendArrival(records, {.commit = log.commits[0], .time_ms = 1000});
  AppendArrival(records, {.commit = log.commits[1], .time_ms = 1000});
  Range range = Begin(log);
  EXPECT_TRUE(ReadOnto(range, records).ok());
  records.clear();
  AppendArrival(records, {.commit = log.commits[1], .time_ms = 999});
  const absl::Status status = ReadOnto(range, records);
  EXPECT_EQ(ReasonOf(status), "LOG_ORDER");
  EXPECT_EQ(status.code(), absl::StatusCode::kDataLoss);
}

TEST(Range, NamesTheArrivalThatCannotBeRead) {
  TrialLog log = LogOfTwo(2);
  log.commits[2] = "no commit";
  Range range = Begin(log);
  const absl::Status status = ReadOnto(range, log.Records());
  EXPECT_EQ(ReasonOf(status), "COMMIT_FORM");
  EXPECT_THAT(std::string(status.message()), HasSubstr("arrival 3"));
  Range cut = Begin(log);
  EXPECT_EQ(ReasonOf(ReadOnto(cut, "\x05")), "RECORD_FORM");
}

TEST(Range, PassesOnWhatItsContextCannotTell) {
  const TrialLog log = LogOfTwo(2);
  Range range = Begin(log);
  ASSERT_TRUE(ReadOnto(range, log.Records()).ok());
  RangeContext context = Nothing(log.cooperative);
  context.head_of = [](const ChainId&) -> absl::StatusOr<ChainHead> {
    return Fail(absl::StatusCode::kDataLoss, "STORE_DAMAGED", "verify");
  };
  EXPECT_EQ(ReasonOf(CheckRange(range, context).status()), "STORE_DAMAGED");
}

}  // namespace
}  // namespace broodpact::facts
