// Goal: what a part of a lost log is proved by holds for that part at its place and for its times,
// and for nothing else. Method: a log of the test, its tree, and proofs that are spoiled.

#include "client/sync/first_times.h"

#include <map>

#include <gtest/gtest.h>

#include "client/base/status.h"
#include "client/facts/arrival.h"

namespace broodpact::sync {
namespace {

constexpr std::uint64_t kArrivals = 23;

// The tree of a log in memory.
class TrialTree final : public MerkleNodes {
 public:
  absl::StatusOr<Hash> HashAt(const MerklePlace& place) const override { return nodes_.at(place); }
  void Append(const Hash& leaf) {
    std::vector<MerkleNode> completed;
    EXPECT_TRUE(frontier_.Append(leaf, &completed).ok());
    for (const MerkleNode& node : completed) nodes_[node.place] = node.hash;
  }
  Hash Root() const { return frontier_.Root(); }

 private:
  MerkleFrontier frontier_;
  std::map<MerklePlace, Hash> nodes_;
};

class FirstTimesOfALostLog : public ::testing::Test {
 protected:
  FirstTimesOfALostLog() {
    for (std::uint64_t i = 0; i < kArrivals; ++i) {
      const facts::ArrivalView arrival = ArrivalAt(i);
      tree_.Append(facts::LogLeafHash(Sha256(arrival.commit), facts::TimesOf(arrival)));
      roots_.push_back(tree_.Root());
    }
  }

  // Every third had arrived in an earlier log still.
  facts::ArrivalView ArrivalAt(std::uint64_t place) const {
    facts::ArrivalView arrival{.commit = std::string_view(kLetters).substr(place, 1),
                               .time_ms = 1'000 + static_cast<std::int64_t>(place)};
    if (place % 3 == 0) arrival.first_time_ms = 500;
    return arrival;
  }
  std::string Records(std::uint64_t before, std::uint64_t count) const {
    std::string records;
    for (std::uint64_t i = 0; i < count; ++i) AppendArrival(records, ArrivalAt(before + i));
    return records;
  }
  Head HeadAt(std::uint64_t arrivals) const {
    return {{.point = {.arrivals = arrivals}, .tree_root = roots_[arrivals - 1]}};
  }
  FirstTimes Proved(std::uint64_t head, std::uint64_t before, std::uint64_t count) const {
    const auto times = ProveFirstTimes(tree_, HeadAt(head), before, count);
    EXPECT_TRUE(times.ok() && times->has_value());
    return **times;
  }

  static constexpr char kLetters[] = "abcdefghijklmnopqrstuvw";
  TrialTree tree_;
  std::vector<Hash> roots_;
};

TEST_F(FirstTimesOfALostLog, AreProvedForAnyPartAsFarAsTheHeadReaches) {
  for (std::uint64_t head = 1; head <= kArrivals; ++head) {
    for (std::uint64_t before = 0; before < head; ++before) {
      for (std::uint64_t count = 1; before + count <= kArrivals; ++count) {
        const auto proven =
            CheckFirstTimes(before, Records(before, count), Proved(head, before, count));
        ASSERT_TRUE(proven.ok()) << head << " " << before << " " << count;
        EXPECT_EQ(*proven, std::min(count, head - before));
      }
    }
  }
}

TEST_F(FirstTimesOfALostLog, AreNotProvedByAHeadThatDoesNotReachThem) {
  const auto times = ProveFirstTimes(tree_, HeadAt(7), 7, 3);
  ASSERT_TRUE(times.ok());
  EXPECT_FALSE(times->has_value());
}

TEST_F(FirstTimesOfALostLog, AreOfThatPartAtItsPlaceAlone) {
  const FirstTimes good = Proved(20, 5, 9);
  const auto reason = [](std::uint64_t before, const std::string& records,
                         const FirstTimes& times) {
    return ReasonOf(CheckFirstTimes(before, records, times).status());
  };
  EXPECT_EQ(reason(5, Records(5, 9), good), "");
  EXPECT_EQ(reason(6, Records(5, 9), good), "PROOF_WRONG");
  EXPECT_EQ(reason(5, Records(6, 9), good), "PROOF_WRONG");
  EXPECT_EQ(reason(5, Records(5, 8), good), "PROOF_WRONG");
  FirstTimes spoiled = good;
  spoiled.head.tree_root[0] ^= 1U;
  EXPECT_EQ(reason(5, Records(5, 9), spoiled), "PROOF_WRONG");
  spoiled = good;
  spoiled.tree_before.back() ^= '\1';
  EXPECT_EQ(reason(5, Records(5, 9), spoiled), "PROOF_WRONG");
  spoiled.tree_before = "nonsense";
  EXPECT_EQ(reason(5, Records(5, 9), spoiled), "PROOF_WRONG");
  spoiled = good;
  spoiled.proof.pop_back();
  EXPECT_EQ(reason(5, Records(5, 9), spoiled), "PROOF_WRONG");
}

TEST_F(FirstTimesOfALostLog, AreThoseOfTheLogAndNoOthers) {
  const FirstTimes good = Proved(20, 5, 2);
  const auto reason = [&](const facts::ArrivalView& second) {
    std::string records = Records(5, 1);
    AppendArrival(records, second);
    return ReasonOf(CheckFirstTimes(5, records, good).status());
  };
  facts::ArrivalView arrival = ArrivalAt(6);
  ASSERT_EQ(reason(arrival), "");
  arrival.first_time_ms = 499;
  EXPECT_EQ(reason(arrival), "PROOF_WRONG");
  arrival.first_time_ms.reset();
  EXPECT_EQ(reason(arrival), "PROOF_WRONG");
  arrival = ArrivalAt(6);
  --arrival.time_ms;
  EXPECT_EQ(reason(arrival), "PROOF_WRONG");
  arrival = ArrivalAt(6);
  arrival.commit = "x";
  EXPECT_EQ(reason(arrival), "PROOF_WRONG");
}

}  // namespace
}  // namespace broodpact::sync
