// Goal: arrival records, log hashes and heads have one form that never changes. Method: a law for
// the way there and back, records spoilt byte by byte, and the formulas recomputed by hand.

#include "client/facts/arrival.h"

#include <string>
#include <vector>

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "client/base/status.h"

namespace broodpact::facts {
namespace {

using namespace std::string_literals;

// What a reader makes of records: the commits it read, then the reason why it stopped.
std::vector<std::string> CommitsIn(std::string_view records) {
  std::vector<std::string> commits;
  ArrivalReader reader(records);
  while (!reader.at_end()) {
    const auto arrival = reader.Next();
    commits.push_back(arrival.ok() ? std::string(arrival->commit) : ReasonOf(arrival.status()));
    if (!arrival.ok()) break;
  }
  return commits;
}

std::string Record(const std::string& commit, std::optional<Signature> signature = {}) {
  std::string record;
  AppendArrival(record, {.commit = commit, .time_ms = 1, .signature = signature});
  return record;
}

std::string RecordWithFirst(std::int64_t time_ms, std::int64_t first_time_ms) {
  std::string record;
  AppendArrival(record, {.commit = "abc", .time_ms = time_ms, .first_time_ms = first_time_ms});
  return record;
}

RC_GTEST_PROP(Arrivals, ReadBackAsWritten, ()) {
  std::string records;
  std::vector<std::string> commits;
  std::vector<std::int64_t> times;
  std::vector<std::optional<std::int64_t>> first_times;
  const auto count = *rc::gen::inRange(0, 4);
  for (int i = 0; i < count; ++i) {
    commits.emplace_back(*rc::gen::element<std::size_t>(1, 127, 128, kCommitBytesMax), 'c');
    times.push_back(*rc::gen::arbitrary<std::int64_t>());
    std::optional<Signature> signature;
    if (*rc::gen::arbitrary<bool>()) signature.emplace().fill(static_cast<std::uint8_t>(i));
    first_times.emplace_back();
    if (times.back() > 0 && *rc::gen::arbitrary<bool>()) first_times.back() = times.back() / 2;
    AppendArrival(records, {.commit = commits.back(),
                            .time_ms = times.back(),
                            .first_time_ms = first_times.back(),
                            .signature = signature});
  }
  ArrivalReader reader(records);
  for (std::size_t i = 0; i < commits.size(); ++i) {
    const auto arrival = reader.Next();
    RC_ASSERT(arrival.ok());
    RC_ASSERT(arrival->commit == commits[i]);
    RC_ASSERT(arrival->time_ms == times[i]);
    RC_ASSERT(arrival->first_time_ms == first_times[i]);
    if (arrival->signature) RC_ASSERT((*arrival->signature)[63] == i);
  }
  RC_ASSERT(reader.at_end());
}

TEST(Arrivals, HaveTheFramingOfTheHeader) {
  Signature signature{};
  signature.fill(0x5a);
  std::string record;
  AppendArrival(record, {.commit = "abc", .time_ms = 0x0102030405060708, .signature = signature});
  EXPECT_EQ(record, "\x03"s + "abc" + "\x01\x02\x03\x04\x05\x06\x07\x08" + "\x01" +
                        std::string(64, '\x5a'));
  EXPECT_EQ(Record("abc"), "\x03"s + "abc" + "\0\0\0\0\0\0\0\x01"s + "\0"s);
}

TEST(Arrivals, HaveTheirFirstTimeBeforeTheSignature) {
  Signature signature{};
  signature.fill(0x5a);
  std::string record;
  AppendArrival(record,
                {.commit = "abc", .time_ms = 9, .first_time_ms = 0x0102, .signature = signature});
  EXPECT_EQ(record, "\x03"s + "abc" + "\0\0\0\0\0\0\0\x09"s + "\x03" + "\0\0\0\0\0\0\x01\x02"s +
                        std::string(64, '\x5a'));
  EXPECT_EQ(RecordWithFirst(9, 8),
            "\x03"s + "abc" + "\0\0\0\0\0\0\0\x09"s + "\x02" + "\0\0\0\0\0\0\0\x08"s);
}

TEST(Arrivals, AreRefusedWithAFirstTimeThatIsNotBefore) {
  const std::vector<std::string> refused = {"RECORD_FORM"};
  EXPECT_EQ(CommitsIn(RecordWithFirst(9, 8)), std::vector<std::string>{"abc"});
  EXPECT_EQ(CommitsIn(RecordWithFirst(9, 9)), refused);
  EXPECT_EQ(CommitsIn(RecordWithFirst(9, 10)), refused);
  EXPECT_EQ(CommitsIn(RecordWithFirst(9, -1)), refused);
  EXPECT_EQ(CommitsIn(RecordWithFirst(9, 8).substr(0, 20)), refused);
}

TEST(Arrivals, AreRefusedWhereverTheyAreCut) {
  Signature signature{};
  const std::string records = Record("one") + Record("two", signature);
  const std::size_t first = Record("one").size();
  for (std::size_t size = first + 1; size < records.size(); ++size) {
    EXPECT_EQ(CommitsIn(std::string_view(records).substr(0, size)),
              (std::vector<std::string>{"one", "RECORD_FORM"}))
        << size;
  }
}

TEST(Arrivals, AreRefusedWithASizeThatNoCommitHasOrAnUnknownFlag) {
  const std::vector<std::string> refused = {"RECORD_FORM"};
  EXPECT_EQ(CommitsIn("\0"s + std::string(20, '\0')), refused);
  EXPECT_EQ(CommitsIn("\x81\x80\x04"s + std::string(kCommitBytesMax + 20, 'c')), refused);
  EXPECT_EQ(CommitsIn("\xff\xff\xff\xff\xff\xff\xff\xff\xff\x01"s), refused);
  std::string flagged = Record("one");
  flagged.back() = '\4';
  EXPECT_EQ(CommitsIn(flagged), refused);
}

TEST(LogHash, ChainsHashCommitAndTime) {
  const Hash before = Sha256("before");
  const Hash commit = Sha256("commit");
  EXPECT_EQ(
      NextLogHash(before, commit, {.time_ms = 0x0102}),
      Sha256(std::string(ViewOf(before)) + std::string(ViewOf(commit)) + "\0\0\0\0\0\0\x01\x02"s));
}

TEST(LogHash, ChainsAFirstTimeBehindTheTime) {
  const Hash before = Sha256("before");
  const Hash commit = Sha256("commit");
  EXPECT_EQ(NextLogHash(before, commit, {.time_ms = 0x0102, .first_time_ms = 3}),
            Sha256(std::string(ViewOf(before)) + std::string(ViewOf(commit)) +
                   "\0\0\0\0\0\0\x01\x02"s + "\0\0\0\0\0\0\0\x03"s));
}

TEST(LogLeaf, HasAFirstTimeBehindTheTime) {
  const Hash commit = Sha256("commit");
  EXPECT_EQ(LogLeafHash(commit, {.time_ms = 0x0102, .first_time_ms = 3}),
            Sha256("\0"s + std::string(ViewOf(commit)) + "\0\0\0\0\0\0\x01\x02"s +
                   "\0\0\0\0\0\0\0\x03"s));
}

TEST(LogLeaf, IsTheCommitAndItsTimeUnderThePrefixOfALeaf) {
  const Hash commit = Sha256("commit");
  EXPECT_EQ(LogLeafHash(commit, {.time_ms = 0x0102}),
            Sha256("\0"s + std::string(ViewOf(commit)) + "\0\0\0\0\0\0\x01\x02"s));
}

TEST(Head, IsSignedWithItsPurposePlaceAndTime) {
  Hash cooperative{};
  cooperative.fill(0xc0);
  LogPoint point = {.arrivals = 258};
  point.log_hash.fill(0x10);
  Hash root{};
  root.fill(0x20);
  EXPECT_EQ(HeadMessage(cooperative, {.epoch = 3, .point = point, .tree_root = root, .time_ms = 4}),
            "broodpact head v1\0"s + std::string(32, '\xc0') + "\0\0\0\x03"s +
                "\0\0\0\0\0\0\x01\x02"s + std::string(32, '\x10') + std::string(32, '\x20') +
                "\0\0\0\0\0\0\0\x04"s);
}

}  // namespace
}  // namespace broodpact::facts
