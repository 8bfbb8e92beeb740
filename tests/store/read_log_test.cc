// Goal: whatever was appended is read back, from any place, as a walk over a plain vector would
// have it; and a slice to send never ends within a run.
// Method: made-up logs in batches of all sizes; each answer is held against the naive twin.

#include <map>
#include <optional>

#include "gtest/gtest.h"
#include "rapidcheck/gtest.h"

#include "client/base/status.h"
#include "client/store/internal/blocks.h"
#include "client/store/store.h"
#include "tests/store/trial_log.h"

namespace broodpact::store {
namespace {

constexpr std::size_t kRecordBytesMax = 512;  // of a made-up commit, its time and its signature

// A log of a few batches, from one arrival to several blocks.
struct Trial {
  TempFolder folder;
  std::unique_ptr<Store> store = OpenForWriting(folder.path());
  TrialLog log;

  explicit Trial(const TrialShape& shape) : log(shape) {}
};

std::unique_ptr<Trial> AnyTrial() {
  TrialShape shape;
  shape.seed = *rc::gen::arbitrary<std::uint32_t>();
  shape.chains = *rc::gen::inRange<std::uint32_t>(1, 6);
  shape.run_max = *rc::gen::element<std::uint32_t>(1, 3, 12, 200);
  auto trial = std::make_unique<Trial>(shape);
  const auto counts = *rc::gen::container<std::vector<std::size_t>>(
      *rc::gen::inRange<std::size_t>(1, 6),
      rc::gen::element<std::size_t>(1, 1, 2, 31, 64, 65, 300));
  for (const std::size_t count : counts) RC_ASSERT(trial->log.AppendTo(*trial->store, count).ok());
  return trial;
}

RC_GTEST_PROP(ReadLog, GivesWholeRunsFromAnyCursor, ()) {
  const auto trial = AnyTrial();
  const std::vector<TrialArrival>& twin = trial->log.arrivals();
  const auto cursor = *rc::gen::inRange<std::size_t>(0, twin.size() + 3);
  const auto bytes_max = *rc::gen::element<std::size_t>(1, 5'000, 50'000, 10'000'000);

  const absl::StatusOr<LogSlice> slice = trial->store->ReadLog(cursor, bytes_max);
  RC_ASSERT(slice.ok());
  RC_ASSERT((slice->count == 0) == (cursor >= twin.size()));
  facts::ArrivalReader reader(slice->records);
  std::map<facts::ChainId, bool> vouched;
  for (std::size_t i = cursor; i < cursor + slice->count; ++i) {
    const absl::StatusOr<facts::ArrivalView> view = reader.Next();
    RC_ASSERT(view.ok());
    RC_ASSERT(view->commit == twin.at(i).stored.bytes);
    RC_ASSERT(view->time_ms == twin.at(i).stored.time_ms);
    RC_ASSERT(view->signature == twin.at(i).stored.signature);
    vouched[twin.at(i).chain] = view->signature.has_value();
  }
  RC_ASSERT(reader.at_end());
  for (const auto& [chain, is_vouched] : vouched) RC_ASSERT(is_vouched);
}

RC_GTEST_PROP(ReadLog, StaysWithinTheBytesAskedForWhereRunsAreShort, ()) {
  Trial trial({.seed = *rc::gen::arbitrary<std::uint32_t>(), .chains = 3, .run_max = 1});
  RC_ASSERT(trial.log.AppendTo(*trial.store, 500).ok());
  const auto bytes_max = *rc::gen::inRange<std::size_t>(0, 100'000);
  const auto slice = trial.store->ReadLog(*rc::gen::inRange<std::uint64_t>(0, 500), bytes_max);
  RC_ASSERT(slice.ok());
  RC_ASSERT(slice->records.size() <= std::max(bytes_max, kBlockBytesMax + kRecordBytesMax));
}

TEST(ReadLog, FollowedSliceBySliceGivesTheWholeLog) {
  Trial trial({.seed = 7, .run_max = 5});
  for (const std::size_t count : {1U, 700U, 3U}) {
    ASSERT_TRUE(trial.log.AppendTo(*trial.store, count).ok());
  }
  std::uint64_t cursor = 0;
  std::string all;
  while (true) {
    const auto slice = trial.store->ReadLog(cursor, 20'000);
    ASSERT_TRUE(slice.ok()) << slice.status();
    if (slice->count == 0) break;
    cursor += slice->count;
    all += slice->records;
  }
  EXPECT_EQ(cursor, trial.log.arrivals().size());
  const auto at_once = trial.store->ReadLog(0, std::size_t{1} << 30U);
  ASSERT_TRUE(at_once.ok()) << at_once.status();
  EXPECT_EQ(at_once->records, all);
}

RC_GTEST_PROP(VisitArrivals, ShowsEachArrivalOnceInOrderWithItsVerdict, ()) {
  const auto trial = AnyTrial();
  const std::vector<TrialArrival>& twin = trial->log.arrivals();
  const auto first = *rc::gen::inRange<std::uint64_t>(1, twin.size() + 1);
  const auto last = *rc::gen::inRange<std::uint64_t>(first, twin.size() + 1);
  std::uint64_t expected = first;
  const absl::Status status =
      trial->store->VisitArrivals(first, last, [&](std::uint64_t arrival, const auto& stored) {
        RC_ASSERT(arrival == expected);
        RC_ASSERT(Same(stored, twin.at(arrival - 1).stored));
        ++expected;
        return absl::OkStatus();
      });
  RC_ASSERT(status.ok());
  RC_ASSERT(expected == last + 1);
}

TEST(VisitArrivals, StopsAtTheFirstErrorAndReturnsIt) {
  Trial trial({});
  ASSERT_TRUE(trial.log.AppendTo(*trial.store, 100).ok());
  int calls = 0;
  const absl::Status status =
      trial.store->VisitArrivals(1, 100, [&](std::uint64_t, const StoredArrival&) {
        return ++calls == 70 ? absl::CancelledError("enough") : absl::OkStatus();
      });
  EXPECT_EQ(status.code(), absl::StatusCode::kCancelled);
  EXPECT_EQ(calls, 70);
}

TEST(ReadArrival, SaysThatAnArrivalIsMissing) {
  Trial trial({});
  ASSERT_TRUE(trial.log.AppendTo(*trial.store, 3).ok());
  const std::uint64_t arrivals = trial.log.point().arrivals;
  EXPECT_TRUE(trial.store->ReadArrival(arrivals).ok());
  for (const std::uint64_t missing : {std::uint64_t{0}, arrivals + 1}) {
    const auto arrival = trial.store->ReadArrival(missing);
    EXPECT_EQ(arrival.status().code(), absl::StatusCode::kNotFound);
    EXPECT_EQ(ReasonOf(arrival.status()), "ARRIVAL_MISSING");
  }
}

RC_GTEST_PROP(ArrivalOf, AgreesWithANaiveScan, ()) {
  const auto trial = AnyTrial();
  std::map<std::pair<facts::ChainId, std::uint64_t>, std::uint64_t> scan;
  std::uint64_t arrival = 0;
  for (const TrialArrival& twin : trial->log.arrivals()) scan[{twin.chain, twin.seq}] = ++arrival;
  for (const auto& [place, expected] : scan) {
    const auto found = trial->store->ArrivalOf(place.first, place.second);
    RC_ASSERT(found.ok());
    RC_ASSERT(*found == std::optional<std::uint64_t>(expected));
  }
  for (const auto& [chain, head] : trial->log.heads()) {
    for (const std::uint64_t seq : {std::uint64_t{0}, head.seq + 1, head.seq + 2000}) {
      const auto found = trial->store->ArrivalOf(chain, seq);
      RC_ASSERT(found.ok());
      RC_ASSERT(!found->has_value());
    }
    facts::ChainId other = chain;
    other.incarnation = 77;
    RC_ASSERT(!trial->store->ArrivalOf(other, 1).value().has_value());
  }
}

TEST(ArrivalOf, FindsCommitsOfARunLongerThanASegment) {
  Trial trial({.seed = 3, .chains = 1, .run_max = 100'000, .commit_bytes_max = 4});
  ASSERT_TRUE(trial.log.AppendTo(*trial.store, 5000).ok());
  for (const std::uint64_t arrival : {1U, 1023U, 1024U, 1025U, 2049U, 5000U}) {
    const TrialArrival& twin = trial.log.arrivals().at(arrival - 1);
    const auto found = trial.store->ArrivalOf(twin.chain, twin.seq);
    ASSERT_TRUE(found.ok()) << found.status();
    EXPECT_EQ(*found, std::optional<std::uint64_t>(arrival));
  }
}

TEST(CommitAt, IsTheCommitThatArrivedThereAndNothingWhereNoneHas) {
  Trial trial({.seed = 4});
  ASSERT_TRUE(trial.log.AppendTo(*trial.store, 100).ok());
  for (std::uint64_t arrival = 1; arrival <= trial.log.arrivals().size(); ++arrival) {
    const TrialArrival& twin = trial.log.arrivals().at(arrival - 1);
    const auto found = trial.store->CommitAt(twin.chain, twin.seq);
    ASSERT_TRUE(found.ok()) << found.status();
    EXPECT_EQ(*found, trial.store->ReadArrival(arrival)->bytes);
  }
  for (const auto& [chain, head] : trial.log.heads()) {
    EXPECT_EQ(*trial.store->CommitAt(chain, head.seq + 1), std::nullopt);
  }
}

TEST(HeadOf, IsTheNewestCommitOfTheChainAndZeroForAStranger) {
  Trial trial({.seed = 5});
  ASSERT_TRUE(trial.log.AppendTo(*trial.store, 100).ok());
  ASSERT_TRUE(trial.log.AppendTo(*trial.store, 100).ok());
  for (const auto& [chain, head] : trial.log.heads()) {
    EXPECT_EQ(trial.store->HeadOf(chain).value(), head);
  }
  EXPECT_EQ(trial.store->HeadOf(facts::ChainId{}).value(), facts::ChainHead{});
}

}  // namespace
}  // namespace broodpact::store
