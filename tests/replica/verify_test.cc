// Goal: a replica that is not what its commits say is found out, and mended from them.
// Method: the fold of a sound replica is replaced by a wrong one, a value at a time.

#include <gmock/gmock.h>

#include "client/base/status.h"
#include "client/registry/fold.h"
#include "client/replica/replica.h"
#include "tests/replica/testing/society.h"

namespace broodpact::replica {
namespace {

using testing::AddAnimal;
using testing::AddGroup;
using ::testing::Contains;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using testing::Society;

class VerifyTest : public ::testing::Test {
 protected:
  VerifyTest() {
    society_.Found("mira", "CZ");
    society_.Enter("tomas");
    group_ = AddGroup(society_, "mira", "hamorii-colima");
    society_.Deliver();
    AddAnimal(society_, "mira", {.group = group_, .name = "rosa", .sex = facts::Sex::kFemale});
    AddAnimal(society_, "tomas", {.group = group_, .name = "bruno", .sex = facts::Sex::kMale});
    society_.Deliver();
  }

  // Folds mira's log again as it is, but for what `spoil` does to verdicts and changes.
  template <typename Spoil>
  void FoldWrongly(Spoil spoil) {
    society_.Close("mira");
    auto database =
        store::Store::Open(society_.HomeOf("mira").database(), store::Access::kReadWrite);
    ASSERT_TRUE(database.ok()) << database.status();
    ASSERT_TRUE((*database)->ClearFold().ok());
    const auto slice = (*database)->ReadLog(0, 1'000'000);
    ASSERT_TRUE(slice.ok());
    facts::Range range;
    ASSERT_TRUE(facts::ReadOnto(range, slice->records).ok());
    registry::State state(**database);
    std::vector<registry::Verdict> verdicts;
    for (const facts::Arrived& arrived : range.arrivals) {
      verdicts.push_back(registry::Fold(state, arrived));
    }
    std::vector<registry::Change> changes = state.TakeChanges();
    spoil(verdicts, changes);
    ASSERT_TRUE((*database)->AppendFold(1, verdicts, changes).ok());
  }

  Verified VerifyMira() {
    absl::StatusOr<Verified> verified = society_.At("mira").Verify();
    EXPECT_TRUE(verified.ok()) << verified.status();
    return verified.ok() ? *std::move(verified) : Verified{};
  }

  void ExpectMended() {
    const absl::StatusOr<Verified> rebuilt = society_.At("mira").Rebuild();
    ASSERT_TRUE(rebuilt.ok()) << rebuilt.status();
    EXPECT_THAT(rebuilt->faults, IsEmpty());
    EXPECT_EQ(rebuilt->state_digest, *society_.At("tomas").store().StateDigest());
    society_.Close("mira");
    EXPECT_THAT(VerifyMira().faults, IsEmpty());
  }

  Society society_;
  GroupId group_;
};

registry::Change& ChangeOf(std::vector<registry::Change>& changes, registry::Kind kind) {
  return *std::ranges::find_if(
      changes, [kind](const registry::Change& change) { return change.key.kind == kind; });
}

TEST_F(VerifyTest, FindsNothingOnASoundReplica) {
  const Verified verified = VerifyMira();
  EXPECT_THAT(verified.faults, IsEmpty());
  EXPECT_EQ(verified.commits, society_.At("mira").store().point().arrivals);
  EXPECT_EQ(verified.point, society_.At("mira").store().point());
  EXPECT_EQ(verified.state_digest, *society_.At("tomas").store().StateDigest());
  // One cooperative, two keepers, two devices, a stretch of either's chain, one invitation, one
  // group, two animals.
  EXPECT_EQ(verified.subjects, 11U);
}

TEST_F(VerifyTest, FindsNothingBeforeTheFirstArrival) {
  society_.Start("bela");
  const auto verified = society_.At("bela").Verify();
  ASSERT_TRUE(verified.ok()) << verified.status();
  EXPECT_THAT(verified->faults, IsEmpty());
  EXPECT_EQ(verified->commits, 0U);
}

TEST_F(VerifyTest, FindsAValueThatIsNotWhatTheLogGives) {
  FoldWrongly([](auto&, std::vector<registry::Change>& changes) {
    registry::Change& change = ChangeOf(changes, registry::Kind::kAnimal);
    auto animal = registry::Decode<registry::Animal>(change.value);
    ASSERT_TRUE(animal);
    animal->death_cause = "flipped";
    change.value = registry::Encode(*animal);
  });
  EXPECT_THAT(VerifyMira().faults, Contains(HasSubstr("is not what the log gives")));
  ExpectMended();
}

TEST_F(VerifyTest, FindsASubjectThatIsMissing) {
  FoldWrongly([](auto&, std::vector<registry::Change>& changes) {
    std::erase_if(changes, [](const registry::Change& change) {
      return change.key.kind == registry::Kind::kGroup;
    });
  });
  EXPECT_THAT(VerifyMira().faults, Contains(HasSubstr("and is not stored")));
  ExpectMended();
}

TEST_F(VerifyTest, FindsASubjectTooMany) {
  FoldWrongly([](auto&, std::vector<registry::Change>& changes) {
    registry::Change change = ChangeOf(changes, registry::Kind::kGroup);
    change.key.id.fill(0xEE);
    changes.push_back(change);
  });
  EXPECT_THAT(VerifyMira().faults, Contains(HasSubstr("does not follow from the log")));
  ExpectMended();
}

TEST_F(VerifyTest, FindsAnIndexEntryThatIsMissing) {
  FoldWrongly([](auto&, std::vector<registry::Change>& changes) {
    ChangeOf(changes, registry::Kind::kAnimal).index_added.pop_back();
  });
  EXPECT_THAT(VerifyMira().faults, Contains(HasSubstr("index")));
  ExpectMended();
}

TEST_F(VerifyTest, FindsAVerdictThatIsNotWhatTheLogGives) {
  FoldWrongly([](std::vector<registry::Verdict>& verdicts, auto&) {
    verdicts.back() = {.kind = registry::VerdictKind::kRefused, .reason = "SPOILT"};
  });
  EXPECT_THAT(VerifyMira().faults, Contains(HasSubstr("verdict of commit")));
  ExpectMended();
}

TEST_F(VerifyTest, IsTakenUpAgainAfterARebuildThatWasCutOff) {
  society_.Close("mira");
  {
    const auto database =
        store::Store::Open(society_.HomeOf("mira").database(), store::Access::kReadWrite);
    ASSERT_TRUE(database.ok());
    ASSERT_TRUE((*database)->ClearFold().ok());
  }
  EXPECT_EQ(ReasonOf(Replica::Open(society_.HomeOf("mira"), store::Access::kReadOnly,
                                   society_.surroundings())
                         .status()),
            "STORE_DAMAGED");
  EXPECT_THAT(VerifyMira().faults, IsEmpty());
}

TEST_F(VerifyTest, LeavesUndeliveredActsWhereTheyAre) {
  AddGroup(society_, "mira", "hamorii-jalisco");
  ASSERT_TRUE(society_.At("mira").Rebuild().ok());
  EXPECT_EQ(society_.At("mira").undelivered().size(), 1U);
  EXPECT_TRUE(society_.ViewOf("mira").GroupNamed("hamorii-jalisco").ok());
  AddGroup(society_, "mira", "hamorii-nayarit");
  society_.Deliver();
  EXPECT_THAT(VerifyMira().faults, IsEmpty());
}

}  // namespace
}  // namespace broodpact::replica
