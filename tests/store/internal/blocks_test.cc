// Goal: blocks keep every record and verdict, stay within their size, and know where runs end.
// Method: made-up ranges, cut and put together again; the worked example of FORMAT.md.

#include "client/store/internal/blocks.h"

#include <set>

#include "gtest/gtest.h"
#include "rapidcheck/gtest.h"

#include "tests/store/trial_log.h"

namespace broodpact::store {
namespace {

RC_GTEST_PROP(BlockCutter, KeepsAllRecordsInOrderWithinItsBounds, ()) {
  TrialLog log({.seed = *rc::gen::arbitrary<std::uint32_t>(),
                .run_max = *rc::gen::element<std::uint32_t>(1, 5, 300)});
  const facts::Range range = log.NextRange(*rc::gen::inRange<std::size_t>(1, 400));
  std::string all;
  for (std::size_t i = 0; i < range.arrivals.size(); ++i) {
    facts::AppendArrival(all, {.commit = range.bytes[i],
                               .time_ms = range.arrivals[i].time_ms,
                               .first_time_ms = range.arrivals[i].first_time_ms,
                               .signature = range.signatures[i]});
  }

  BlockCutter cutter(range);
  std::string joined;
  std::string value;
  std::size_t first = 0;
  std::set<facts::ChainId> open;
  while (!cutter.at_end()) {
    const std::size_t count = cutter.Next(value);
    const auto block = DecodeLogBlock(value);
    RC_ASSERT(block.has_value());
    RC_ASSERT(block->count == count);
    RC_ASSERT(count <= kBlockRecordsMax);
    RC_ASSERT(block->records.size() < kBlockBytesMax + 512);
    for (std::size_t i = first; i < first + count; ++i) {
      const facts::ChainId chain = facts::ChainOf(range.arrivals[i].commit.header);
      if (range.signatures[i].has_value()) {
        open.erase(chain);
      } else {
        open.insert(chain);
      }
    }
    RC_ASSERT(block->closed == open.empty());
    joined += block->records;
    first += count;
  }
  RC_ASSERT(joined == all);
  RC_ASSERT(open.empty());
}

TEST(BlockCutter, EndsEveryBlockWithARunWhereRunsAreShort) {
  TrialLog log({.seed = 9, .run_max = 1});
  const facts::Range range = log.NextRange(1000);
  BlockCutter cutter(range);
  std::string value;
  while (!cutter.at_end()) {
    cutter.Next(value);
    EXPECT_TRUE(DecodeLogBlock(value)->closed);
  }
}

TEST(DecodeLogBlock, RefusesWhatIsNoBlock) {
  using std::string_view_literals::operator""sv;
  for (const std::string_view value : {""sv, "\x00"sv, "\x01"sv, "\x80"sv, "\xFF\x7F"sv}) {
    EXPECT_FALSE(DecodeLogBlock(value).has_value());
  }
}

RC_GTEST_PROP(VerdictBlock, ReadsBack, ()) {
  TrialLog log({.seed = *rc::gen::arbitrary<std::uint32_t>()});
  const facts::Range range = log.NextRange(*rc::gen::inRange<std::size_t>(1, 80));
  const std::vector<registry::Verdict> verdicts = log.BatchOf(range).verdicts;
  const auto first = *rc::gen::inRange<std::size_t>(0, verdicts.size());
  const std::size_t count = verdicts.size() - first;
  std::string value;
  EncodeVerdictBlock(verdicts, first, count, value);
  RC_ASSERT(VerdictCountOf(value) == count);
  const auto read = DecodeVerdictBlock(value);
  RC_ASSERT(read.has_value());
  RC_ASSERT(std::equal(read->begin(), read->end(),
                       verdicts.begin() + static_cast<std::ptrdiff_t>(first), verdicts.end()));
  value.pop_back();
  RC_ASSERT(!DecodeVerdictBlock(value).has_value());
}

TEST(VerdictBlock, TakesOneByteForAPlainlyCountedCommit) {
  std::string value;
  EncodeVerdictBlock(std::vector<registry::Verdict>(64), 0, 64, value);
  EXPECT_EQ(value.size(), 65U);
}

// FORMAT.md, "A worked example".
TEST(Format, HasTheBlocksOfTheWorkedExample) {
  const std::string value = *HexToBytes(
      "05"
      "03"
      "616263"
      "0000018bcfe56800"
      "00"
      "02"
      "6465"
      "0000018bcfe56801"
      "01"
      "0101010101010101010101010101010101010101010101010101010101010101"
      "0101010101010101010101010101010101010101010101010101010101010101");
  const auto block = DecodeLogBlock(value);
  ASSERT_TRUE(block.has_value());
  EXPECT_EQ(block->count, 2U);
  EXPECT_TRUE(block->closed);
  facts::ArrivalReader reader(block->records);
  const auto first = reader.Next();
  ASSERT_TRUE(first.ok()) << first.status();
  EXPECT_EQ(first->commit, "abc");
  EXPECT_EQ(first->time_ms, 1'700'000'000'000);
  EXPECT_FALSE(first->signature.has_value());
  const auto second = reader.Next();
  ASSERT_TRUE(second.ok()) << second.status();
  EXPECT_EQ(second->commit, "de");
  ASSERT_TRUE(second->signature.has_value());
  EXPECT_EQ((*second->signature)[63], 1);
  EXPECT_TRUE(reader.at_end());

  EXPECT_EQ(*DecodeVerdictBlock(*HexToBytes("020000")), std::vector<registry::Verdict>(2));

  facts::Range range;
  facts::Arrived arrived;
  arrived.time_ms = 1'700'000'000'000;
  range.arrivals.push_back(arrived);
  ++arrived.time_ms;
  range.arrivals.push_back(arrived);
  range.bytes = {"abc", "de"};
  range.signatures = {std::nullopt, second->signature};
  std::string written;
  EXPECT_EQ(BlockCutter(range).Next(written), 2U);
  EXPECT_EQ(BytesToHex(written), BytesToHex(value));
}

}  // namespace
}  // namespace broodpact::store
