// Goal: keys sort as what they name does, and read back; the bytes are those of FORMAT.md.
// Method: laws over any values, and the worked examples of FORMAT.md.

#include "client/store/internal/keys.h"

#include "gtest/gtest.h"
#include "rapidcheck/gtest.h"

namespace broodpact::store {
namespace {

facts::ChainId AnyChain() {
  facts::ChainId chain;
  chain.device.bytes[15] = *rc::gen::arbitrary<std::uint8_t>();
  chain.incarnation = *rc::gen::element<std::uint32_t>(1, 2, 255, 256, 0xFFFFFFFFU);
  return chain;
}

std::uint64_t AnyNumber() {
  return *rc::gen::oneOf(rc::gen::inRange<std::uint64_t>(0, 600),
                         rc::gen::arbitrary<std::uint64_t>());
}

RC_GTEST_PROP(Keys, SortAsTheirNumbersDo, ()) {
  const facts::ChainId chain = AnyChain();
  const std::uint64_t a = AnyNumber();
  const std::uint64_t b = AnyNumber();
  RC_ASSERT((BlockKey(a).view() < BlockKey(b).view()) == (a < b));
  RC_ASSERT((SegmentKey(chain, a).view() < SegmentKey(chain, b).view()) == (a < b));
  RC_ASSERT(NumberAtEnd(BlockKey(a).view()) == a);
  RC_ASSERT(ParseBig64(Big64Text(a)) == a);
}

RC_GTEST_PROP(Keys, OfPendingCommitsReadBackAndSortByChainThenSeq, ()) {
  const facts::ChainId chain_a = AnyChain();
  const facts::ChainId chain_b = AnyChain();
  const std::uint64_t a = AnyNumber();
  const std::uint64_t b = AnyNumber();
  const Key key = PendingKey(chain_a, a);
  const auto place = ParsePendingKey(key.view());
  RC_ASSERT(place.has_value());
  RC_ASSERT(place->chain == chain_a);
  RC_ASSERT(place->seq == a);
  RC_ASSERT((key.view() < PendingKey(chain_b, b).view()) ==
            (std::pair(chain_a, a) < std::pair(chain_b, b)));
}

RC_GTEST_PROP(Keys, OfSubjectsAreTheRegistrysOwn, ()) {
  registry::SubjectKey key;
  key.kind = *rc::gen::element(registry::Kind::kCooperative, registry::Kind::kFrozen);
  key.id[3] = *rc::gen::arbitrary<std::uint8_t>();
  RC_ASSERT(StateKey(key).view() == registry::KeyText(key));
}

RC_GTEST_PROP(Segment, FindsEachOfItsArrivals, ()) {
  const auto steps =
      *rc::gen::container<std::vector<std::uint32_t>>(rc::gen::inRange<std::uint32_t>(1, 70'000));
  std::vector<std::uint64_t> arrivals = {*rc::gen::inRange<std::uint64_t>(1, 1'000'000)};
  Segment segment(5, arrivals.front());
  for (const std::uint32_t step : steps) {
    RC_ASSERT(segment.Continues(5 + arrivals.size()));
    arrivals.push_back(arrivals.back() + step);
    segment.Add(arrivals.back());
  }
  RC_ASSERT(!segment.Continues(4 + arrivals.size()));
  bool damaged = false;
  for (std::size_t place = 0; place < arrivals.size(); ++place) {
    RC_ASSERT(ArrivalInSegment(segment.value(), place, damaged) == arrivals[place]);
  }
  RC_ASSERT(!ArrivalInSegment(segment.value(), arrivals.size(), damaged).has_value());
  RC_ASSERT(!damaged);
}

TEST(Segment, SaysThatItsBytesAreDamaged) {
  for (const std::string_view bytes : {"", "\x85", "\x05\x85"}) {
    bool damaged = false;
    EXPECT_FALSE(ArrivalInSegment(bytes, 1, damaged).has_value());
    EXPECT_TRUE(damaged) << BytesToHex(bytes);
  }
}

TEST(AfterPrefix, IsTheFirstKeyThatDoesNotBeginSo) {
  EXPECT_EQ(AfterPrefix("nab"), "nac");
  EXPECT_EQ(AfterPrefix("n\xFF\xFF"), "o");
  EXPECT_EQ(AfterPrefix("\xFF"), "");
  EXPECT_EQ(AfterPrefix(""), "");
}

// FORMAT.md, "A worked example".
TEST(Format, HasTheKeysOfTheWorkedExample) {
  facts::ChainId chain;
  for (std::uint8_t i = 0; i < 16; ++i) chain.device.bytes.at(i) = i;
  EXPECT_EQ(BytesToHex(BlockKey(0).view()), "0000000000000000");
  EXPECT_EQ(BytesToHex(HeadKey(chain).view()), "68000102030405060708090a0b0c0d0e0f00000001");
  EXPECT_EQ(BytesToHex(SegmentKey(chain, 7).view()),
            "73000102030405060708090a0b0c0d0e0f000000010000000000000007");
  Segment segment(7, 1);
  segment.Add(2);
  EXPECT_EQ(BytesToHex(segment.value()), "0101");
}

}  // namespace
}  // namespace broodpact::store
