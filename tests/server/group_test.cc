// Goal: whatever way runs come, cut, repeated or overlapping, each commit gets one place, and a run
// that does not fit fails alone. Method: a law over random cuts of one chain; examples.

#include "server/group.h"

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "client/base/status.h"
#include "tests/facts/any_chain.h"

namespace broodpact::server {
namespace {

// Keeps what groups put into the log.
class Standing final : public Known {
 public:
  Standing() = default;
  Standing(const Standing&) = delete;
  Standing& operator=(const Standing&) = delete;

  absl::StatusOr<facts::ChainHead> HeadOf(const facts::ChainId& chain) const override {
    const auto found = hashes_.find(chain);
    if (found == hashes_.end()) return facts::ChainHead{};
    return facts::ChainHead{.seq = found->second.size(), .hash = found->second.back()};
  }
  absl::StatusOr<Hash> HashAt(const facts::ChainId& chain, std::uint64_t seq) const override {
    return hashes_.at(chain).at(seq - 1);
  }
  absl::StatusOr<Hash> LogHashAt(std::uint64_t arrivals) const override {
    EXPECT_EQ(arrivals % kStretchArrivals, 0U) << "a log keeps no hash there";
    return HashAfter(arrivals);
  }
  absl::StatusOr<std::vector<Hash>> LogHashesAfter(const facts::LogPoint& point,
                                                   std::uint64_t last) const override {
    EXPECT_EQ(point.log_hash, HashAfter(point.arrivals));
    std::vector<Hash> hashes;
    for (std::uint64_t i = point.arrivals + 1; i <= last; ++i) hashes.push_back(HashAfter(i));
    arrivals_read += hashes.size();
    return hashes;
  }
  absl::StatusOr<std::int64_t> TimeOf(std::uint64_t arrival) const override {
    return times_.at(arrival - 1);
  }
  bool HasLost(std::uint64_t arrivals) const override { return arrivals <= lost_arrivals; }
  void Keep(const facts::Range& range) {
    for (const facts::Arrived& arrived : range.arrivals) {
      hashes_[facts::ChainOf(arrived.commit.header)].push_back(arrived.commit.hash);
      times_.push_back(arrived.time_ms);
    }
    log_hashes_.insert(log_hashes_.end(), range.log_hashes.begin(), range.log_hashes.end());
    point_ = range.after;
  }
  // A run arrives.
  void Take(server::Run run, std::int64_t time_ms) {
    Group group(point_, time_ms, *this, places);
    EXPECT_TRUE(group.Add(run).ok());
    Keep(group.range());
  }
  const facts::LogPoint& point() const { return point_; }
  // What somebody has seen who has so many arrivals.
  facts::Seen SeenAt(std::uint64_t arrivals) const {
    return facts::SeenOf(arrivals, HashAfter(arrivals));
  }

  std::uint64_t lost_arrivals = 0;
  SeenPlaces places{*this};
  mutable std::uint64_t arrivals_read = 0;  // for what the log was after each

 private:
  Hash HashAfter(std::uint64_t arrivals) const {
    return arrivals == 0 ? Hash{} : log_hashes_.at(arrivals - 1);
  }

  std::map<facts::ChainId, std::vector<Hash>> hashes_;
  std::vector<Hash> log_hashes_;
  std::vector<std::int64_t> times_;
  facts::LogPoint point_;
};

// Commits 1 .. `count` of a device, each signed, to be cut into runs.
class Chain {
 public:
  Chain(std::uint8_t device, std::uint32_t count, std::uint32_t flavour = 0) {
    facts::Author author(device, Sha256("c"));
    id_ = author.chain();
    for (std::uint32_t i = 0; i < count; ++i) {
      bytes_.push_back(author.Write({facts::AnyMoult(i + flavour)}));
      signatures_.push_back(author.Sign());
    }
  }

  // Commits `first` to `last`, counted from 1.
  server::Run Cut(std::size_t first, std::size_t last) const {
    server::Run run;
    run.chain = id_;
    run.signature = signatures_[last - 1];
    for (std::size_t i = first - 1; i < last; ++i) {
      run.bytes.push_back(bytes_[i]);
      run.commits.push_back(*facts::ParseCommit(bytes_[i]));
      run.bytes_size += bytes_[i].size();
    }
    return run;
  }

 private:
  facts::ChainId id_;
  std::vector<std::string> bytes_;
  std::vector<Signature> signatures_;
};

RC_GTEST_PROP(Group, GivesEachCommitOnePlaceHoweverRunsAreCut, ()) {
  const Chain chain(1, 8);
  Standing standing;
  std::size_t arrived = 0;
  for (int round = 0; round < 6; ++round) {
    Group group(standing.point(), 1'000 + round, standing, standing.places);
    for (int i = 0; i < 3; ++i) {
      const auto first = *rc::gen::inRange<std::size_t>(1, 9);
      const auto last = *rc::gen::inRange<std::size_t>(first, 9);
      const std::size_t standing_now = (*standing.HeadOf(chain.Cut(1, 1).chain)).seq;
      server::Run run = chain.Cut(first, last);
      const auto placement = group.Add(run);
      if (first > arrived + 1) {
        RC_ASSERT(ReasonOf(placement.status()) == "CHAIN_HOLE");
      } else if (arrived > standing_now && first <= arrived) {
        RC_ASSERT(*placement == Placement::kLater);
      } else if (last <= arrived) {
        RC_ASSERT(*placement == Placement::kArrived);
      } else {
        RC_ASSERT(*placement == Placement::kAdded);
        arrived = last;
      }
    }
    standing.Keep(group.range());
    RC_ASSERT(standing.point().arrivals == arrived);
  }
}

TEST(Group, MakesARangeThatTheCheckerOfTheClientsAccepts) {
  Standing standing;
  Group group({.arrivals = 0, .log_hash = Sha256("c")}, 5, standing, standing.places);
  server::Run first = Chain(1, 3).Cut(1, 3);
  server::Run second = Chain(2, 2).Cut(1, 2);
  ASSERT_TRUE(group.Add(first).ok());
  ASSERT_TRUE(group.Add(second).ok());
  std::string records;
  for (std::size_t i = 0; i < group.range().arrivals.size(); ++i) {
    facts::AppendArrival(records, {.commit = group.range().bytes[i],
                                   .time_ms = group.range().arrivals[i].time_ms,
                                   .signature = group.range().signatures[i]});
  }
  facts::Range read;
  read.before = group.range().before;
  read.after = read.before;
  ASSERT_TRUE(facts::ReadOnto(read, records).ok());
  EXPECT_EQ(read.after, group.range().after);
  EXPECT_EQ(read.arrivals.back().arrival, 5U);
  EXPECT_FALSE(read.signatures[0].has_value());
  EXPECT_TRUE(read.signatures[2].has_value());
  EXPECT_TRUE(read.signatures[4].has_value());
}

TEST(Group, GivesWhatArrivesAgainItsFirstTimeUnlessThatIsNotBefore) {
  Standing standing;
  Group group({.arrivals = 0, .log_hash = Sha256("c")}, 5, standing, standing.places);
  server::Run again = Chain(1, 5).Cut(1, 5);
  again.first_times_ms = {4, 5, 6, -1, std::nullopt};
  ASSERT_TRUE(group.Add(again).ok());
  std::vector<std::optional<std::int64_t>> first_times;
  Hash log_hash = Sha256("c");
  for (const facts::Arrived& arrived : group.range().arrivals) {
    EXPECT_EQ(arrived.time_ms, 5);
    first_times.push_back(arrived.first_time_ms);
    log_hash = facts::NextLogHash(log_hash, arrived.commit.hash, facts::TimesOf(arrived));
  }
  EXPECT_EQ(first_times, (std::vector<std::optional<std::int64_t>>{4, std::nullopt, std::nullopt,
                                                                   std::nullopt, std::nullopt}));
  EXPECT_EQ(group.range().after.log_hash, log_hash);
}

TEST(Group, GivesFirstTimesToWhatIsNewOfARunAlone) {
  Standing standing;
  standing.Take(Chain(1, 3).Cut(1, 2), 5);
  Group group(standing.point(), 9, standing, standing.places);
  server::Run again = Chain(1, 3).Cut(1, 3);
  again.first_times_ms = {1, 2, 3};
  ASSERT_TRUE(group.Add(again).ok());
  ASSERT_EQ(group.range().arrivals.size(), 1U);
  EXPECT_EQ(group.range().arrivals.front().first_time_ms, 3);
}

TEST(Group, GivesNoFirstTimeBeforeWhatItsAuthorHadSeen) {
  Standing standing;
  standing.Take(Chain(1, 2).Cut(1, 2), 50);
  standing.lost_arrivals = 9;
  Group group(standing.point(), 90, standing, standing.places);
  server::Run again = Chain(2, 4).Cut(1, 4);
  again.commits[1].header.seen = standing.SeenAt(2);
  again.commits[2].header.seen = standing.SeenAt(2);
  again.commits[3].header.seen = {.arrivals = 4, .log_hash = {1}};  // of what was lost
  again.first_times_ms = {49, 49, 50, 49};
  ASSERT_TRUE(group.Add(again).ok());
  std::vector<std::optional<std::int64_t>> first_times;
  for (const facts::Arrived& arrived : group.range().arrivals) {
    first_times.push_back(arrived.first_time_ms);
  }
  EXPECT_EQ(first_times, (std::vector<std::optional<std::int64_t>>{49, std::nullopt, 50, 49}));
}

TEST(Group, LosesOneRunAndNotTheOthers) {
  Standing standing;
  Group group({}, 5, standing, standing.places);
  server::Run good = Chain(1, 2).Cut(1, 2);
  server::Run holed = Chain(2, 3).Cut(2, 3);
  ASSERT_TRUE(group.Add(good).ok());
  EXPECT_EQ(ReasonOf(group.Add(holed).status()), "CHAIN_HOLE");
  EXPECT_EQ(group.range().arrivals.size(), 2U);
  EXPECT_EQ(group.heads().size(), 1U);
  EXPECT_EQ(holed.commits.size(), 2U);
}

TEST(Group, TakesNothingThatHasSeenALogThatNeverWas) {
  Standing standing;
  Group group({}, 5, standing, standing.places);
  server::Run ahead = Chain(1, 2).Cut(1, 2);
  ahead.commits[1].header.seen.arrivals = 3;
  EXPECT_EQ(ReasonOf(group.Add(ahead).status()), "SEEN_AHEAD");
  EXPECT_TRUE(group.range().arrivals.empty());
  standing.lost_arrivals = 3;
  EXPECT_TRUE(group.Add(ahead).ok());
}

TEST(Group, TakesNothingThatHasSeenAnotherLog) {
  Standing standing;
  standing.Take(Chain(1, 3).Cut(1, 3), 5);
  Group group(standing.point(), 6, standing, standing.places);
  server::Run other = Chain(2, 2).Cut(1, 2);
  other.commits[1].header.seen = {.arrivals = 2, .log_hash = {1}};
  EXPECT_EQ(ReasonOf(group.Add(other).status()), "SEEN_OTHER");
  EXPECT_TRUE(group.range().arrivals.empty());
  other.commits[1].header.seen = standing.SeenAt(2);
  EXPECT_TRUE(group.Add(other).ok());
  server::Run lost = Chain(3, 1).Cut(1, 1);
  lost.commits[0].header.seen = {.arrivals = 2, .log_hash = {1}};
  standing.lost_arrivals = 2;
  EXPECT_TRUE(group.Add(lost).ok());
}

TEST(Group, ReadsAStretchOfTheLogOnceWhateverPlacesOfItARunHasSeen) {
  Standing standing;
  standing.Take(Chain(1, 300).Cut(1, 300), 5);
  server::Run run = Chain(2, 1'024).Cut(1, 1'024);
  for (std::size_t i = 0; i < run.commits.size(); ++i) {
    run.commits[i].header.seen = standing.SeenAt(i % 2 == 0 ? 250 : 255 - i % 64);
  }
  Group group(standing.point(), 6, standing, standing.places);
  const auto placement = group.Add(run);
  ASSERT_TRUE(placement.ok()) << placement.status();
  EXPECT_EQ(standing.arrivals_read, 255U);
}

TEST(Group, ReadsNothingThatAGroupBeforeItHasRead) {
  Standing standing;
  standing.Take(Chain(1, 300).Cut(1, 300), 5);
  for (std::uint8_t device = 2; device < 10; ++device) {
    server::Run run = Chain(device, 1).Cut(1, 1);
    run.commits[0].header.seen = standing.SeenAt(std::uint64_t{240} + device);
    standing.Take(run, 6);
  }
  EXPECT_EQ(standing.arrivals_read, 255U);
}

TEST(Group, ReadsWhatTheLastStretchHasGrownByAlone) {
  Standing standing;
  const Chain chain(1, 310);
  standing.Take(chain.Cut(1, 300), 5);
  server::Run early = Chain(2, 1).Cut(1, 1);
  early.commits[0].header.seen = standing.SeenAt(260);
  standing.Take(early, 6);
  EXPECT_EQ(standing.arrivals_read, 44U);
  standing.Take(chain.Cut(301, 310), 7);
  server::Run late = Chain(3, 2).Cut(1, 2);
  late.commits[0].header.seen = standing.SeenAt(305);
  late.commits[1].header.seen = standing.SeenAt(259);
  standing.Take(late, 8);
  EXPECT_EQ(standing.arrivals_read, 44U + 11U);
}

TEST(Group, ReadsNothingForOneWhoHasSeenAllOfTheLog) {
  Standing standing;
  standing.Take(Chain(1, 300).Cut(1, 300), 5);
  server::Run run = Chain(2, 1).Cut(1, 1);
  run.commits[0].header.seen = standing.SeenAt(300);
  standing.Take(run, 6);
  EXPECT_EQ(standing.arrivals_read, 0U);
}

TEST(Group, FindsAForkAtTheHeadAndBelowIt) {
  Standing standing;
  const Chain chain(1, 4);
  const Chain forked(1, 6, 100);
  standing.Take(chain.Cut(1, 4), 5);
  for (const std::size_t last : {1U, 2U, 4U, 6U}) {
    Group group(standing.point(), 6, standing, standing.places);
    server::Run other = forked.Cut(1, last);
    EXPECT_EQ(ReasonOf(group.Add(other).status()), "CHAIN_FORK") << last;
  }
  Group group(standing.point(), 6, standing, standing.places);
  server::Run beyond = forked.Cut(5, 6);
  EXPECT_EQ(ReasonOf(group.Add(beyond).status()), "CHAIN_FORK");
}

}  // namespace
}  // namespace broodpact::server
