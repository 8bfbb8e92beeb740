// Goal: a range is checked, folded and stored as one, and of a range that fails anywhere nothing
// stays: neither on disk nor in what the ledger remembers.
// Method: signed commits of a small cooperative, in ranges that are good, forged, stale or stored
// against a store that refuses; the same commits in different batches.

#include "client/replica/ledger.h"

#include <chrono>
#include <thread>
#include <utility>

#include "gtest/gtest.h"
#include "rapidcheck/gtest.h"

#include "client/base/check.h"
#include "client/base/status.h"
#include "client/device/key.h"
#include "client/registry/index.h"
#include "tests/replica/testing/surroundings.h"

namespace broodpact::replica {
namespace {

// A registrar's device: founds, then enters groups.
class Author {
 public:
  facts::ChainId chain() const { return {.device = DeviceOf(key_.public_key()), .incarnation = 1}; }
  const device::SecretKey& key() const { return key_; }
  const Hash& cooperative() const { return cooperative_; }

  facts::SignedCommit Found() {
    facts::Founding founding{.name = "hamorii-colima",
                             .keeper = keeper_,
                             .keeper_name = "mira",
                             .device_key = key_.public_key(),
                             .region = {}};
    facts::SignedCommit commit = Sign({std::move(founding)});
    cooperative_ = head_.hash;
    return commit;
  }

  facts::SignedCommit EnterAnimal(std::uint8_t number, std::uint8_t group) {
    return Sign({facts::AnimalEntry{
        .animal = AnimalId{{number}}, .group = GroupId{{group}}, .name = "rosa"}});
  }

  facts::SignedCommit Bury(std::uint8_t number) {
    return Sign({facts::Death{.animal = AnimalId{{number}}, .day = testing::On("2026-11-01")}});
  }

  facts::SignedCommit EnterGroup(std::uint8_t number, std::string name) {
    facts::GroupEntry entry{.group = {},
                            .name = std::move(name),
                            .taxon = "Brachypelma hamorii",
                            .locality = {},
                            .line = {}};
    entry.group.bytes[0] = number;
    return Sign({std::move(entry)});
  }

 private:
  facts::SignedCommit Sign(const std::vector<facts::Statement>& statements) {
    facts::CommitHeader header{.cooperative = cooperative_,
                               .device = chain().device,
                               .incarnation = 1,
                               .seq = head_.seq + 1,
                               .prev = head_.hash,
                               .seen = {},
                               .clock_ms = 1'795'597'200'000};
    facts::SignedCommit commit{.bytes = facts::BuildCommit(header, statements), .signature = {}};
    head_ = {.seq = header.seq, .hash = Sha256(commit.bytes)};
    commit.signature = facts::SignCommit(key_, head_.hash);
    return commit;
  }

  device::SecretKey key_ = device::SecretKey::Generate();
  KeeperId keeper_{{7}};
  Hash cooperative_{};
  facts::ChainHead head_;
};

facts::Range RangeOf(const facts::LogPoint& before,
                     const std::vector<facts::SignedCommit>& commits) {
  std::string records;
  for (const facts::SignedCommit& commit : commits) {
    facts::AppendArrival(
        records,
        {.commit = commit.bytes, .time_ms = 1'795'597'300'000, .signature = commit.signature});
  }
  facts::Range range;
  range.before = before;
  range.after = before;
  const absl::Status status = facts::ReadOnto(range, records);
  BP_CHECK(status.ok());
  return range;
}

// A store with a ledger on it.
struct Trial {
  testing::TempFolder folder;
  std::unique_ptr<store::Store> store = Open();
  std::unique_ptr<Ledger> ledger = std::make_unique<Ledger>(*store);

  absl::StatusOr<std::vector<registry::Verdict>> Append(
      const std::vector<facts::SignedCommit>& commits,
      std::optional<facts::ChainId> own = std::nullopt) {
    return ledger->Append(RangeOf(ledger->point(), commits), own, store::Durability::kWritten);
  }

  // The next range while the one before is being stored.
  absl::StatusOr<std::vector<registry::Verdict>> AppendAhead(
      const std::vector<facts::SignedCommit>& commits) {
    return ledger->AppendAhead(
        std::make_shared<const facts::Range>(RangeOf(ledger->point(), commits)), std::nullopt);
  }

  void Reopen() {
    ledger.reset();
    store.reset();
    store = Open();
    ledger = std::make_unique<Ledger>(*store);
  }

 private:
  std::unique_ptr<store::Store> Open() const {
    auto opened = store::Store::Open(folder.path(), store::Access::kReadWrite);
    BP_CHECK(opened.ok());
    return *std::move(opened);
  }
};

class LedgerTest : public ::testing::Test {
 protected:
  void SetUp() override {
    const facts::SignedCommit founding = author_.Found();
    ASSERT_TRUE(trial_.ledger->SetCooperative(author_.cooperative()).ok());
    const auto verdicts = trial_.Append({founding});
    ASSERT_TRUE(verdicts.ok()) << verdicts.status();
    ASSERT_EQ(verdicts->front().kind, registry::VerdictKind::kCounted) << verdicts->front().reason;
  }

  bool HasGroup(std::uint8_t number) const {
    return trial_.store->Subject({.kind = registry::Kind::kGroup, .id = {number}})->has_value();
  }

  Author author_;
  Trial trial_;
};

TEST_F(LedgerTest, StoresARangeWithItsFold) {
  const auto verdicts =
      trial_.Append({author_.EnterGroup(1, "colima"), author_.EnterGroup(2, "jalisco")});
  ASSERT_TRUE(verdicts.ok()) << verdicts.status();
  EXPECT_EQ(*verdicts, std::vector<registry::Verdict>(2));
  EXPECT_EQ(trial_.store->point().arrivals, 3U);
  EXPECT_TRUE(HasGroup(1));
  EXPECT_TRUE(HasGroup(2));
  EXPECT_EQ(trial_.store->HeadOf(author_.chain())->seq, 3U);
  EXPECT_EQ(trial_.store->CheckDisk()->size(), 0U);
}

TEST_F(LedgerTest, KnowsTheKeysOfMembersAndOfNobodyElse) {
  EXPECT_EQ(*trial_.ledger->KeyOf(author_.chain().device), author_.key().public_key());
  EXPECT_FALSE(trial_.ledger->KeyOf(DeviceId{{9}})->has_value());
}

TEST_F(LedgerTest, RemembersTheCooperativeAcrossOpenings) {
  trial_.Reopen();
  EXPECT_EQ(trial_.ledger->cooperative(), author_.cooperative());
  EXPECT_TRUE(trial_.Append({author_.EnterGroup(1, "colima")}).ok());
  EXPECT_TRUE(HasGroup(1));
}

TEST_F(LedgerTest, KeepsNothingOfAForgedRange) {
  const facts::SignedCommit good = author_.EnterGroup(1, "colima");
  facts::SignedCommit forged = author_.EnterGroup(2, "jalisco");
  const facts::SignedCommit honest = forged;
  forged.signature[0] = static_cast<std::uint8_t>(forged.signature[0] ^ 1U);
  const facts::LogPoint before = trial_.store->point();
  const Hash digest = *trial_.store->StateDigest();

  const auto verdicts = trial_.Append({good, forged});
  EXPECT_EQ(verdicts.status().code(), absl::StatusCode::kPermissionDenied);
  EXPECT_EQ(ReasonOf(verdicts.status()), "SIGNATURE_BAD");
  EXPECT_EQ(trial_.store->point(), before);
  EXPECT_EQ(*trial_.store->StateDigest(), digest);

  const auto again = trial_.Append({good, honest});
  ASSERT_TRUE(again.ok()) << again.status();
  EXPECT_EQ(*again, std::vector<registry::Verdict>(2));
}

TEST_F(LedgerTest, RefusesARangeThatBeginsElsewhere) {
  const facts::LogPoint before = trial_.store->point();
  ASSERT_TRUE(trial_.Append({author_.EnterGroup(1, "colima")}).ok());
  const auto verdicts = trial_.ledger->Append(RangeOf(before, {author_.EnterGroup(2, "jalisco")}),
                                              std::nullopt, store::Durability::kSynced);
  EXPECT_EQ(verdicts.status().code(), absl::StatusCode::kAborted);
  EXPECT_EQ(ReasonOf(verdicts.status()), "LOG_MOVED");
  EXPECT_FALSE(HasGroup(2));
}

TEST_F(LedgerTest, ForgetsWhatTheStoreRefused) {
  // A rebuild that was broken off makes the store refuse, after the range was folded.
  const Hash digest = *trial_.store->StateDigest();
  std::vector<registry::Change> changes;
  for (std::uint8_t kind = 1; kind <= static_cast<std::uint8_t>(registry::kKindLast); ++kind) {
    const auto subjects =
        trial_.store->SubjectsOfKind(static_cast<registry::Kind>(kind), std::nullopt, 100);
    for (const registry::StoredSubject& subject : *subjects) {
      changes.push_back({.key = {.kind = static_cast<registry::Kind>(kind), .id = subject.id},
                         .value = subject.value,
                         .index_removed = {},
                         .index_added = {}});
    }
  }
  const facts::SignedCommit group = author_.EnterGroup(1, "colima");
  ASSERT_TRUE(trial_.store->ClearFold().ok());
  EXPECT_EQ(ReasonOf(trial_.Append({group}).status()), "FOLD_UNFINISHED");
  ASSERT_TRUE(trial_.store->AppendFold(1, std::vector<registry::Verdict>(1), changes).ok());
  ASSERT_EQ(*trial_.store->StateDigest(), digest);

  const auto verdicts = trial_.Append({group});
  ASSERT_TRUE(verdicts.ok()) << verdicts.status();
  EXPECT_EQ(*verdicts, std::vector<registry::Verdict>(1));
  EXPECT_TRUE(HasGroup(1));
}

TEST_F(LedgerTest, ForgetsAllThatFollowsARangeThatTheStoreRefusedWhileTheNextWasFolded) {
  const facts::LogPoint before = trial_.store->point();
  ASSERT_TRUE(trial_.store->ClearFold().ok());  // as a rebuild that was broken off leaves it
  const facts::SignedCommit first = author_.EnterGroup(1, "colima");
  const facts::SignedCommit second = author_.EnterGroup(2, "jalisco");
  ASSERT_TRUE(trial_.AppendAhead({first}).ok()) << "not known to be refused yet";
  EXPECT_EQ(trial_.ledger->point().arrivals, 2U);
  EXPECT_EQ(trial_.ledger->HeadOf(author_.chain())->seq, 2U);

  EXPECT_EQ(ReasonOf(trial_.AppendAhead({second}).status()), "FOLD_UNFINISHED");
  EXPECT_EQ(trial_.ledger->point(), before);
  EXPECT_EQ(trial_.store->point(), before);
  EXPECT_EQ(trial_.ledger->HeadOf(author_.chain())->seq, 1U);
  EXPECT_TRUE(trial_.ledger->Settle().ok()) << "told already";
}

TEST_F(LedgerTest, TellsAtTheEndThatTheLastRangeWasRefused) {
  ASSERT_TRUE(trial_.store->ClearFold().ok());
  ASSERT_TRUE(trial_.AppendAhead({author_.EnterGroup(1, "colima")}).ok());
  EXPECT_EQ(ReasonOf(trial_.ledger->Settle()), "FOLD_UNFINISHED");
}

TEST_F(LedgerTest, SeesNamesOfARangeThatIsBeingStored) {
  ASSERT_TRUE(trial_.AppendAhead({author_.EnterGroup(1, "colima")}).ok());
  const auto verdicts = trial_.AppendAhead({author_.EnterGroup(2, "colima")});
  ASSERT_TRUE(verdicts.ok()) << verdicts.status();
  EXPECT_EQ(verdicts->front().reason, "NAME_TAKEN");
}

// A name that was left in the range before, and is taken twice in this one: whether it is free is
// counted from the index as it was before both.
TEST_F(LedgerTest, SeesTheSameNamesHoweverFarTheRangeBeforeIsStored) {
  ASSERT_TRUE(trial_.Append({author_.EnterGroup(1, "colima"), author_.EnterAnimal(1, 1)}).ok());
  ASSERT_TRUE(trial_.AppendAhead({author_.Bury(1)}).ok());
  for (int tries = 0; tries < 10'000 && trial_.store->point().arrivals < 4; ++tries) {
    std::this_thread::sleep_for(std::chrono::milliseconds(1));
  }
  ASSERT_EQ(trial_.store->point().arrivals, 4U);
  const auto verdicts = trial_.AppendAhead({author_.EnterAnimal(2, 1), author_.EnterAnimal(3, 1)});
  ASSERT_TRUE(verdicts.ok()) << verdicts.status();
  EXPECT_EQ(verdicts->front().reason, "");
  EXPECT_EQ(verdicts->back().reason, "NAME_TAKEN");
}

TEST_F(LedgerTest, DeliversOwnCommits) {
  const facts::SignedCommit first = author_.EnterGroup(1, "colima");
  const facts::SignedCommit second = author_.EnterGroup(2, "jalisco");
  ASSERT_TRUE(trial_.store
                  ->AppendPending({{.chain = author_.chain(), .seq = 2, .commit = first},
                                   {.chain = author_.chain(), .seq = 3, .commit = second}})
                  .ok());
  ASSERT_TRUE(trial_.Append({first}, author_.chain()).ok());
  ASSERT_EQ(trial_.store->Pending()->size(), 1U);
  EXPECT_EQ(trial_.store->Pending()->front().seq, 3U);
}

RC_GTEST_PROP(Ledger, ComesToTheSameStateAndVerdictsHoweverTheLogIsCut, ()) {
  Author author;
  std::vector<facts::SignedCommit> commits = {author.Found()};
  const auto count = *rc::gen::inRange<std::size_t>(1, 8);
  for (std::size_t i = 0; i < count; ++i) {
    // Names and ids collide, so that some are refused.
    commits.push_back(author.EnterGroup(*rc::gen::inRange<std::uint8_t>(1, 4),
                                        *rc::gen::element<std::string>("colima", "jalisco")));
  }
  Trial at_once;
  Trial cut;
  RC_ASSERT(at_once.ledger->SetCooperative(author.cooperative()).ok());
  RC_ASSERT(cut.ledger->SetCooperative(author.cooperative()).ok());
  const auto all = at_once.Append(commits);
  RC_ASSERT(all.ok());

  std::vector<registry::Verdict> verdicts;
  for (std::size_t first = 0; first < commits.size();) {
    const std::size_t size = std::min(commits.size() - first, *rc::gen::inRange<std::size_t>(1, 4));
    const auto begin = commits.begin() + static_cast<std::ptrdiff_t>(first);
    const std::vector<facts::SignedCommit> part(begin, begin + static_cast<std::ptrdiff_t>(size));
    const auto some = *rc::gen::inRange(0, 2) == 0 ? cut.Append(part) : cut.AppendAhead(part);
    RC_ASSERT(some.ok());
    verdicts.insert(verdicts.end(), some->begin(), some->end());
    if (*rc::gen::inRange(0, 4) == 0) cut.Reopen();
    first += size;
  }
  RC_ASSERT(cut.ledger->Settle().ok());
  RC_ASSERT(verdicts == *all);
  RC_ASSERT(cut.store->point() == at_once.store->point());
  RC_ASSERT(*cut.store->StateDigest() == *at_once.store->StateDigest());
  RC_ASSERT(*cut.store->IndexEntries("", 1000) == *at_once.store->IndexEntries("", 1000));
}

}  // namespace
}  // namespace broodpact::replica
