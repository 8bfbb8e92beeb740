// Goal: a log that is taken back to an earlier place, and goes on, is what it would have been had
// it never been longer: on disk, in its tree, its chains, its state and its indexes. Method: a real
// log of two chains, in ranges of any size, taken back to any place and continued, beside its twin.

#include <array>
#include <memory>
#include <random>
#include <vector>

#include "gtest/gtest.h"

#include "client/base/check.h"
#include "client/base/status.h"
#include "client/device/key.h"
#include "client/registry/fold.h"
#include "client/replica/ledger.h"
#include "tests/replica/testing/surroundings.h"

namespace broodpact::replica {
namespace {

constexpr std::size_t kCommits = 600;  // more than two whole groups of the tree
constexpr std::int64_t kFirstMillis = 1'795'597'200'000;

// A founder who writes in two lives of the device, in turn; every commit is signed.
class LongLog {
 public:
  LongLog() {
    facts::Founding founding{.name = "cellar",
                             .keeper = KeeperId{{7}},
                             .keeper_name = "mira",
                             .device_key = key_.public_key(),
                             .region = {}};
    Write(1, std::move(founding));
    cooperative_ = Sha256(commits_.front().bytes);
    while (commits_.size() < kCommits) {
      facts::GroupEntry group{.group = {},
                              .name = "group " + std::to_string(commits_.size()),
                              .taxon = "Brachypelma hamorii",
                              .locality = {},
                              .line = {}};
      group.group.bytes[0] = static_cast<std::uint8_t>(commits_.size());
      group.group.bytes[1] = static_cast<std::uint8_t>(commits_.size() / 256);
      Write(commits_.size() % 3 == 0 ? 2 : 1, std::move(group));
    }
  }

  const Hash& cooperative() const { return cooperative_; }
  facts::ChainId chain(std::uint32_t life) const {
    return {.device = DeviceOf(key_.public_key()), .incarnation = life};
  }

  // Arrivals first + 1 .. last.
  facts::Range Part(const facts::LogPoint& before, std::size_t last) const {
    std::string records;
    for (std::size_t i = before.arrivals; i < last; ++i) {
      facts::AppendArrival(records, {.commit = commits_[i].bytes,
                                     .time_ms = kFirstMillis + static_cast<std::int64_t>(i),
                                     .signature = commits_[i].signature});
    }
    facts::Range range{.before = before, .after = before};
    BP_CHECK(facts::ReadOnto(range, records).ok());
    return range;
  }

 private:
  void Write(std::uint32_t life, facts::Statement statement) {
    facts::ChainHead& head = heads_[life - 1];
    const facts::CommitHeader header{.cooperative = cooperative_,
                                     .device = chain(life).device,
                                     .incarnation = life,
                                     .seq = head.seq + 1,
                                     .prev = head.hash,
                                     .seen = {},
                                     .clock_ms = kFirstMillis};
    facts::SignedCommit commit{.bytes = facts::BuildCommit(header, {std::move(statement)}),
                               .signature = {}};
    head = {.seq = header.seq, .hash = Sha256(commit.bytes)};
    commit.signature = facts::SignCommit(key_, head.hash);
    commits_.push_back(std::move(commit));
  }

  device::SecretKey key_ = device::SecretKey::Generate();
  Hash cooperative_{};
  std::array<facts::ChainHead, 2> heads_{};
  std::vector<facts::SignedCommit> commits_;
};

const LongLog& TheLog() {
  static const LongLog log;
  return log;
}

// A store that holds a beginning of the log.
struct Holder {
  testing::TempFolder folder;
  std::unique_ptr<store::Store> store =
      *store::Store::Open(folder.path(), store::Access::kReadWrite);

  // Goes on to `last` arrivals in ranges of `size`.
  void GoOn(std::size_t last, std::size_t size) {
    Ledger ledger(*store);
    BP_CHECK(ledger.SetCooperative(TheLog().cooperative()).ok());
    while (store->point().arrivals < last) {
      const std::size_t end = std::min(last, store->point().arrivals + size);
      const auto verdicts = ledger.Append(TheLog().Part(store->point(), end), std::nullopt,
                                          store::Durability::kWritten);
      BP_CHECK(verdicts.ok());
    }
  }

  absl::Status GoBack(std::size_t arrivals) {
    BP_ASSIGN_OR_RETURN(const Hash log_hash, store->LogHashAt(arrivals));
    BP_RETURN_IF_ERROR(store->Rewind({.arrivals = arrivals, .log_hash = log_hash}, {}));
    return FoldAgain();
  }

  absl::Status FoldAgain() {
    if (store->point().arrivals == 0) return absl::OkStatus();
    registry::State state(*store);
    std::vector<registry::Verdict> verdicts;
    const facts::LogPoint begin{.arrivals = 0, .log_hash = TheLog().cooperative()};
    for (const facts::Arrived& arrived : TheLog().Part(begin, store->point().arrivals).arrivals) {
      verdicts.push_back(registry::Fold(state, arrived));
    }
    return store->AppendFold(1, verdicts, state.TakeChanges());
  }

  std::string Records() const {
    std::string records;
    for (std::uint64_t at = 0; at < store->point().arrivals;) {
      const auto slice = store->ReadLog(at, 65'536);
      BP_CHECK(slice.ok() && slice->count > 0);
      records += slice->records;
      at += slice->count;
    }
    return records;
  }
};

void ExpectTwins(const Holder& one, const Holder& other) {
  ASSERT_EQ(one.store->point(), other.store->point());
  EXPECT_EQ(*one.store->StateDigest(), *other.store->StateDigest());
  EXPECT_EQ(one.Records(), other.Records());
  EXPECT_TRUE(one.store->CheckDisk()->empty());
  const std::uint64_t arrivals = one.store->point().arrivals;
  for (const std::uint64_t at : {arrivals, arrivals / 2, arrivals - arrivals % 256}) {
    EXPECT_EQ(*one.store->TreeRootAt(at), *other.store->TreeRootAt(at)) << at;
    EXPECT_EQ(*one.store->LogHashAt(at), *other.store->LogHashAt(at)) << at;
  }
  for (const std::uint32_t life : {1U, 2U}) {
    const facts::ChainId chain = TheLog().chain(life);
    const facts::ChainHead head = *one.store->HeadOf(chain);
    EXPECT_EQ(head, *other.store->HeadOf(chain));
    for (std::uint64_t seq = 1; seq <= head.seq + 1; ++seq) {
      EXPECT_EQ(*one.store->ArrivalOf(chain, seq), *other.store->ArrivalOf(chain, seq)) << seq;
    }
  }
}

class RewindTo : public ::testing::TestWithParam<std::size_t> {};

TEST_P(RewindTo, LeavesWhatALogThatWasNeverLongerHas) {
  Holder once;
  once.GoOn(kCommits, 37);
  ASSERT_TRUE(once.GoBack(GetParam()).ok());
  Holder twin;
  twin.GoOn(GetParam(), 37);
  ExpectTwins(once, twin);
  once.GoOn(kCommits, 50);
  twin.GoOn(kCommits, 50);
  ExpectTwins(once, twin);
}

INSTANTIATE_TEST_SUITE_P(Places, RewindTo,
                         ::testing::Values(0, 1, 2, 36, 37, 255, 256, 257, 511, 512, 513, 599));

// Seeded, and few of them: each opens two databases.
class RewindAgain : public ::testing::TestWithParam<std::uint32_t> {};

TEST_P(RewindAgain, AndAgainChangesNothing) {
  std::mt19937 random(GetParam());
  const auto roll = [&](std::size_t bound) { return random() % bound; };
  Holder moved;
  moved.GoOn(kCommits, 64);
  for (int i = 0; i < 5; ++i) {
    const std::size_t place = roll(moved.store->point().arrivals);
    ASSERT_TRUE(moved.GoBack(place).ok()) << place;
    moved.GoOn(place + 1 + roll(kCommits - place), 1 + roll(90));
  }
  moved.GoOn(kCommits, 64);
  Holder straight;
  straight.GoOn(kCommits, 600);
  ExpectTwins(moved, straight);
}

INSTANTIATE_TEST_SUITE_P(Seeds, RewindAgain, ::testing::Range(1U, 7U));

TEST(Rewind, RefusesAPlaceOfAnotherLogAndChangesNothing) {
  Holder one;
  one.GoOn(40, 40);
  const Hash digest = *one.store->StateDigest();
  const absl::Status status =
      one.store->Rewind({.arrivals = 20, .log_hash = Sha256("another")}, {});
  EXPECT_EQ(ReasonOf(status), "LOG_OTHER");
  EXPECT_EQ(one.store->point().arrivals, 40U);
  EXPECT_EQ(*one.store->StateDigest(), digest);
}

TEST(Rewind, PutsWhatWaitsAndSurvivesAnOpening) {
  Holder one;
  one.GoOn(40, 40);
  const facts::LogPoint place{.arrivals = 20, .log_hash = *one.store->LogHashAt(20)};
  const store::PendingCommit pending{.chain = TheLog().chain(1), .seq = 30, .commit = {}};
  ASSERT_TRUE(one.store->Rewind(place, {.pending = {pending}, .meta = {{"head", "h"}}}).ok());
  one.store.reset();
  one.store = *store::Store::Open(one.folder.path(), store::Access::kReadWrite);
  EXPECT_EQ(one.store->point(), place);
  EXPECT_EQ(one.store->folded(), 0U);
  EXPECT_EQ(**one.store->Meta("head"), "h");
  ASSERT_EQ(one.store->Pending()->size(), 1U);
  EXPECT_EQ(one.store->Pending()->front().seq, 30U);
}

}  // namespace
}  // namespace broodpact::replica
