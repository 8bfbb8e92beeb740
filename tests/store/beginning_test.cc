// Goal: a log that begins in the middle is, from there on, what the whole log is, says of what came
// before that it is not here, and begins whole or not at all. Method: made-up logs beside their
// whole twins; beginnings that fail or are cut off.

#include <map>

#include "gmock/gmock.h"
#include "gtest/gtest.h"

#include "client/base/merkle_proof.h"
#include "client/base/status.h"
#include "client/registry/encode.h"
#include "client/store/internal/database.h"
#include "client/store/internal/keys.h"
#include "client/store/state_root.h"
#include "tests/store/trial_log.h"

namespace broodpact::store {
namespace {

using ::testing::IsEmpty;

constexpr Hash kCooperative{7};

registry::SubjectKey KeyOf(std::uint8_t number) {
  return {.kind = registry::Kind::kGroup, .id = IdBytes{number}};
}

std::string GroupNamed(std::uint8_t number) {
  registry::Group group;
  group.id = GroupId{{number}};
  group.name = "group " + std::to_string(number);
  return registry::Encode(group);
}

// Hands out subjects 1 .. count, ten a part; then `last`.
Store::NextSubjects Groups(std::uint8_t count, absl::Status last = absl::OkStatus()) {
  auto next = std::make_shared<std::uint8_t>(1);
  return [=]() -> absl::StatusOr<StoredSubjects> {
    StoredSubjects part;
    while (*next <= count && part.size() < 10) {
      part.emplace_back(KeyOf(*next), GroupNamed(*next));
      ++*next;
    }
    if (part.empty() && !last.ok()) return last;
    return part;
  };
}

class BeginningTest : public ::testing::Test {
 protected:
  // A whole log up to the place where the other one begins.
  BeginningTest() : whole_(OpenForWriting(whole_folder_.path())), log_({.seed = 12}) {
    EXPECT_TRUE(log_.AppendTo(*whole_, 700).ok());
    const auto pinned = whole_->Pin();
    beginning_ = {.point = pinned->point(), .tree = pinned->tree(), .heads = log_.heads()};
    beginning_.meta["head"] = "as signed";
  }

  std::unique_ptr<Store> OpenEmpty() {
    auto store = OpenForWriting(folder_.path());
    if (store->point().log_hash == Hash{}) {
      EXPECT_TRUE(store->InitLog(kCooperative).ok());
    }
    return store;
  }

  TempFolder whole_folder_;
  TempFolder folder_;
  std::unique_ptr<Store> whole_;
  TrialLog log_;
  Beginning beginning_;
};

TEST_F(BeginningTest, HasTheStateTheIndexAndThePlace) {
  auto store = OpenEmpty();
  ASSERT_TRUE(store->BeginAt(beginning_, Groups(25)).ok());
  store.reset();
  store = OpenForWriting(folder_.path());
  EXPECT_EQ(store->point(), whole_->point());
  EXPECT_EQ(store->base(), whole_->point());
  EXPECT_EQ(**store->Subject(KeyOf(25)), GroupNamed(25));
  EXPECT_THAT(*store->CheckDisk(), IsEmpty());
  EXPECT_EQ(**store->Meta("head"), "as signed");
  for (const auto& [chain, head] : log_.heads()) EXPECT_EQ(*store->HeadOf(chain), head);
}

TEST_F(BeginningTest, GoesOnAsTheWholeLogDoes) {
  auto store = OpenEmpty();
  ASSERT_TRUE(store->BeginAt(beginning_, Groups(3)).ok());
  const std::uint64_t base = store->base().arrivals;
  for (const std::size_t count : {1U, 30U, 400U, 300U}) {
    const facts::Range range = log_.NextRange(count);
    ASSERT_TRUE(whole_->Append(log_.BatchOf(range)).ok());
    ASSERT_TRUE(store->Append(log_.BatchOf(range)).ok());
  }
  for (std::uint64_t place = base; place <= store->point().arrivals; ++place) {
    ASSERT_EQ(*store->TreeRootAt(place), *whole_->TreeRootAt(place)) << place;
    ASSERT_EQ(*store->LogHashAt(place), *whole_->LogHashAt(place)) << place;
  }
  const auto proof = ConsistencyProof(*store->TreeNodes(), base, store->point().arrivals);
  ASSERT_TRUE(proof.ok()) << proof.status();
  EXPECT_EQ(*proof, *ConsistencyProof(*whole_->TreeNodes(), base, whole_->point().arrivals));
  for (std::uint64_t arrival = base + 1; arrival <= store->point().arrivals; ++arrival) {
    EXPECT_TRUE(Same(*store->ReadArrival(arrival), *whole_->ReadArrival(arrival))) << arrival;
  }
  ASSERT_TRUE(store->RegrowTree().ok());
  EXPECT_EQ(*store->TreeRootAt(store->point().arrivals),
            *whole_->TreeRootAt(whole_->point().arrivals));
}

TEST_F(BeginningTest, SaysOfWhatCameBeforeThatItIsMissing) {
  auto store = OpenEmpty();
  ASSERT_TRUE(store->BeginAt(beginning_, Groups(3)).ok());
  const std::uint64_t base = store->base().arrivals;
  const std::string missing = "HISTORY_MISSING";
  EXPECT_EQ(ReasonOf(store->CheckHistory()), missing);
  EXPECT_EQ(ReasonOf(store->ReadArrival(base).status()), missing);
  EXPECT_EQ(ReasonOf(store->ReadLog(0, 1'000).status()), missing);
  EXPECT_EQ(ReasonOf(store->TreeRootAt(base - 1).status()), missing);
  EXPECT_EQ(ReasonOf(store->LogHashAt(base - 1).status()), missing);
  EXPECT_EQ(ReasonOf(store->ClearFold()), missing);
  const TrialArrival& first = log_.arrivals().front();
  EXPECT_EQ(ReasonOf(store->ArrivalOf(first.chain, first.seq).status()), missing);
  const std::uint64_t later = log_.heads().at(first.chain).seq + 1;
  EXPECT_EQ(*store->ArrivalOf(first.chain, later), std::nullopt);
  EXPECT_EQ(store->ReadLog(base, 1'000)->count, 0U);
}

TEST_F(BeginningTest, IsNoneWhereAPartIsWrong) {
  auto store = OpenEmpty();
  const absl::Status wrong = Fail(absl::StatusCode::kDataLoss, "PART_WRONG", "wrong");
  EXPECT_EQ(ReasonOf(store->BeginAt(beginning_, Groups(25, wrong))), "PART_WRONG");
  EXPECT_EQ(store->base().arrivals, 0U);
  EXPECT_EQ(store->point().arrivals, 0U);
  EXPECT_EQ(*store->StateDigest(), Hash{});
  EXPECT_EQ(*store->IndexEntries("", 9), std::vector<std::string>{});
  ASSERT_TRUE(store->BeginAt(beginning_, Groups(25)).ok());  // another try
  EXPECT_THAT(*store->CheckDisk(), IsEmpty());
}

TEST_F(BeginningTest, IsNoneWhereASubjectIsMalformed) {
  auto store = OpenEmpty();
  const auto malformed = []() -> absl::StatusOr<StoredSubjects> {
    return StoredSubjects{{KeyOf(1), "no group"}};
  };
  EXPECT_EQ(ReasonOf(store->BeginAt(beginning_, malformed)), "STATE_FORM");
  EXPECT_EQ(*store->StateDigest(), Hash{});
}

TEST_F(BeginningTest, ThatWasCutOffIsTakenAwayByTheNextOpening) {
  {
    const auto store = OpenEmpty();
    ASSERT_TRUE(store->BeginAt(beginning_, Groups(25)).ok());
  }
  {
    // As it was before the last batch: parts of the state, and the mark.
    const auto database = Database::Open(folder_.path(), Access::kReadWrite);
    ASSERT_TRUE(database.ok());
    rocksdb::WriteBatch writes;
    writes.Delete((*database)->part(Part::kMeta), SliceOf(kBaseName));
    writes.Delete((*database)->part(Part::kMeta), SliceOf(kTreeName));
    writes.Put((*database)->part(Part::kMeta), SliceOf(kPointName),
               EncodePoint({.arrivals = 0, .log_hash = kCooperative}));
    writes.Put((*database)->part(Part::kMeta), SliceOf(kBeginningName), "begun");
    ASSERT_TRUE((*database)->db().Write({}, &writes).ok());
  }
  std::filesystem::remove(folder_.path() / "head");
  EXPECT_EQ(ReasonOf(Store::Open(folder_.path(), Access::kReadOnly).status()), "REPLICA_BEGINNING");
  const auto store = OpenForWriting(folder_.path());
  EXPECT_EQ(*store->StateDigest(), Hash{});
  EXPECT_EQ(*store->IndexEntries("", 9), std::vector<std::string>{});
}

TEST_F(BeginningTest, OfOneStateHasOneRoot) {
  const auto store = OpenEmpty();
  ASSERT_TRUE(store->BeginAt(beginning_, Groups(3)).ok());
  const StateAt state = *StateOf(*store->Pin(), kCooperative);
  EXPECT_EQ(state.point, whole_->point());
  EXPECT_EQ(state.state_digest, *store->StateDigest());
  StateAt other = state;
  EXPECT_EQ(RootOf(other), RootOf(state));
  other.fold_version += 1;
  EXPECT_NE(RootOf(other), RootOf(state));
  other = state;
  other.heads_digest[0] ^= 1U;
  EXPECT_NE(RootOf(other), RootOf(state));
}

}  // namespace
}  // namespace broodpact::store
