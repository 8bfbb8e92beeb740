// Goal: what a session brings is held against what was said before: verdicts against the
// provisional ones, the log against heads of this session and of earlier ones, in bounds. Method:
// targets on a store of a cooperative without a network; heads signed by a key of the test.

#include "client/replica/internal/chain_target.h"

#include <memory>
#include <string>
#include <vector>

#include <gmock/gmock.h>

#include "client/base/status.h"
#include "client/device/key.h"
#include "client/replica/internal/known_log.h"
#include "client/replica/internal/rep.h"
#include "tests/replica/testing/demand.h"
#include "tests/replica/testing/society.h"

namespace broodpact::replica {
namespace {

using testing::AddGroup;
using testing::Demand;
using ::testing::IsEmpty;
using ::testing::SizeIs;
using testing::Society;

// The replica of tomas, whose log ends two commits of mira's before hers.
class ChainTargets : public ::testing::Test {
 protected:
  ChainTargets() {
    society_.Found("mira");
    society_.Enter("tomas");
    society_.Deliver();
    AddGroup(society_, "mira", "colima");
    AddGroup(society_, "mira", "jalisco");
    waiting_ = society_.At("mira").undelivered();
    society_.Push("mira");
    society_.Pull("mira");
    task_ = {.chain = {DeviceOf(society_.At("tomas").device_key())}};
    society_.Close("tomas");
    store_ =
        Demand(store::Store::Open(society_.HomeOf("tomas").database(), store::Access::kReadWrite));
    ledger_ = std::make_unique<Ledger>(*store_);
  }

  const store::Store& mira() { return society_.At("mira").store(); }

  ChainTarget Target(const std::vector<Replica::Undelivered>& undelivered = {}) {
    return {*store_, *ledger_, task_, undelivered, society_.clock()};
  }

  // What mira has and tomas has not.
  facts::Range Missing() {
    facts::Range range{.before = store_->point(), .after = store_->point()};
    Demand(
        facts::ReadOnto(range, Demand(mira().ReadLog(range.before.arrivals, 1'000'000)).records));
    return range;
  }

  // The head that an honest server signs.
  sync::Head HeadAt(std::uint64_t arrivals) {
    return Sign({.epoch = facts::kFirstEpoch,
                 .point = {.arrivals = arrivals, .log_hash = Demand(mira().LogHashAt(arrivals))},
                 .tree_root = Demand(mira().TreeRootAt(arrivals)),
                 .time_ms = 1'000});
  }
  // One of a log that is not mira's.
  sync::Head OtherHeadAt(std::uint64_t arrivals) {
    return Sign({.epoch = facts::kFirstEpoch,
                 .point = {.arrivals = arrivals, .log_hash = Sha256("another")},
                 .tree_root = Sha256("another"),
                 .time_ms = 1'000});
  }
  // What a server tells that has lost a log of so many arrivals.
  sync::Epoch EpochAfter(std::uint64_t common, std::uint64_t lost) {
    return sync::SignEpoch(
        log_key_, ledger_->cooperative(),
        {.epoch = facts::kFirstEpoch + 1,
         .common = {.arrivals = common, .log_hash = Demand(mira().LogHashAt(common))},
         .lost_arrivals = lost,
         .time_ms = 1'000});
  }
  sync::Head Sign(const facts::HeadClaim& claim) {
    return sync::SignHead(log_key_, ledger_->cooperative(), claim);
  }

  // A session that hears a head, and ends before anything comes.
  void HearInASession(const sync::Head& head) {
    ChainTarget target = Target();
    Demand(target.HearHead(head));
    Demand(target.Settle());
  }

  // The same, as if mira had seen another log when she wrote the last of it.
  facts::Range MissingWithAnotherLogSeen() {
    facts::Range range = Missing();
    range.arrivals.back().commit.header.seen.log_hash[3] ^= 1U;
    return range;
  }
  // A session that takes it, and is killed before anybody asks what it doubts.
  void BeKilledInASession() {
    ChainTarget target = Target();
    Demand(target.Apply(MissingWithAnotherLogSeen()));
  }
  // What a later session doubts that brings nothing.
  std::vector<Doubt> DoubtsOfASession() {
    ChainTarget target = Target();
    Demand(target.HearHead(HeadAt(store_->point().arrivals)));
    Demand(target.Finish());
    return target.TakeDoubts();
  }

  // A server that signs so many heads of a log that does not come, then comes with mira's.
  absl::Status HearOthersThenMiras(std::size_t heads) {
    ChainTarget target = Target();
    const std::uint64_t here = target.point().arrivals;
    for (std::uint64_t i = 1; i <= heads; ++i) {
      BP_RETURN_IF_ERROR(target.HearHead(OtherHeadAt(here + i)));
    }
    BP_RETURN_IF_ERROR(target.Apply(Missing()));
    return target.KeepHead(HeadAt(here + 2));
  }

  Society society_;
  const device::SecretKey log_key_ = device::SecretKey::OfSeed(std::string(32, 'l'));
  std::vector<Replica::Undelivered> waiting_;  // mira's two commits
  ChainTask task_;
  std::unique_ptr<store::Store> store_;
  std::unique_ptr<Ledger> ledger_;
};

TEST_F(ChainTargets, TellWhereTheReasonAloneOfAVerdictChanged) {
  waiting_.front().verdict.reason = "NAME_KEPT";
  ChainTarget target = Target(waiting_);
  ASSERT_TRUE(target.Apply(Missing()).ok());
  const std::vector<ChangedVerdict> changed = target.TakeChanged();
  ASSERT_EQ(changed.size(), 1U);
  EXPECT_EQ(changed.front().arrival, store_->point().arrivals - 1);
  EXPECT_EQ(changed.front().before.reason, "NAME_KEPT");
  EXPECT_EQ(changed.front().after, registry::Verdict{});
}

TEST_F(ChainTargets, TellNothingWhereVerdictsStay) {
  ChainTarget target = Target(waiting_);
  ASSERT_TRUE(target.Apply(Missing()).ok());
  EXPECT_THAT(target.TakeChanged(), IsEmpty());
}

TEST_F(ChainTargets, HoldTheServerToAHeadOfAnEarlierSessionThatTheLogHasNotReached) {
  const std::uint64_t here = store_->point().arrivals;
  HearInASession(HeadAt(here + 2));
  ChainTarget second = Target();
  EXPECT_EQ(ReasonOf(second.HearHead(HeadAt(here))), "LOG_SHRUNK");
  ASSERT_TRUE(second.accusation().has_value());
  EXPECT_EQ(second.accusation()->ours, HeadAt(here + 2));
}

TEST_F(ChainTargets, HoldTheServerToTheFirstOfTwoHeadsOfAsManyArrivals) {
  const std::uint64_t here = store_->point().arrivals;
  ChainTarget target = Target();
  ASSERT_TRUE(target.HearHead(OtherHeadAt(here + 2)).ok());
  EXPECT_EQ(ReasonOf(target.HearHead(HeadAt(here + 2))), "LOG_FORKED");
  ASSERT_TRUE(target.accusation().has_value());
  EXPECT_EQ(target.accusation()->theirs, OtherHeadAt(here + 2));
}

TEST_F(ChainTargets, HoldTheHeadOfALogThatHasComeAgainstAPromiseOfTheSame) {
  const std::uint64_t here = store_->point().arrivals;
  ChainTarget target = Target();
  ASSERT_TRUE(target.HearHead(HeadAt(here + 2)).ok());
  ASSERT_TRUE(target.Apply(Missing()).ok());
  EXPECT_EQ(ReasonOf(target.KeepHead(OtherHeadAt(here + 2))), "LOG_FORKED");
}

TEST_F(ChainTargets, RememberWhereTheLogStoodWhenAHeadWasPromised) {
  const facts::LogPoint here = store_->point();
  HearInASession(HeadAt(here.arrivals + 2));
  const KnownLog known = Demand(ReadKnownLog(*store_));
  ASSERT_TRUE(known.promise.has_value());
  EXPECT_EQ(known.promise->head, HeadAt(here.arrivals + 2));
  EXPECT_EQ(known.promise->common, here);
}

TEST_F(ChainTargets, ReadAPromiseAsItWasKeptBeforePlacesWere) {
  Demand(store_->PutMeta(kMetaPromised, sync::EncodeHead(HeadAt(1))));
  const KnownLog known = Demand(ReadKnownLog(*store_));
  ASSERT_TRUE(known.promise.has_value());
  EXPECT_EQ(known.promise->head, HeadAt(1));
  EXPECT_EQ(known.promise->common, facts::LogPoint{});
}

TEST_F(ChainTargets, HoldTheServerToAHeadOfAnotherLogInLaterSessionsToo) {
  const std::uint64_t here = store_->point().arrivals;
  ChainTarget first = Target();
  EXPECT_EQ(ReasonOf(first.HearHead(OtherHeadAt(here))), "LOG_FORKED");
  Demand(first.Finish());
  ChainTarget second = Target();
  ASSERT_TRUE(second.HearHead(HeadAt(here)).ok());
  EXPECT_EQ(ReasonOf(second.KeepHead(HeadAt(here))), "LOG_FORKED");
  ASSERT_TRUE(second.accusation().has_value());
  EXPECT_EQ(second.accusation()->theirs, OtherHeadAt(here));
}

TEST_F(ChainTargets, LetNoLaterPromiseTakeThePlaceOfABrokenOne) {
  const std::uint64_t here = store_->point().arrivals;
  ChainTarget first = Target();
  EXPECT_EQ(ReasonOf(first.HearHead(OtherHeadAt(here))), "LOG_FORKED");
  Demand(first.Finish());
  ChainTarget second = Target();
  ASSERT_TRUE(second.HearHead(HeadAt(here + 2)).ok());
  EXPECT_EQ(ReasonOf(second.Apply(Missing())), "LOG_FORKED");
  EXPECT_EQ(Demand(ReadKnownLog(*store_)).promised(), OtherHeadAt(here));
}

TEST_F(ChainTargets, HoldNobodyToAHeadOfAnotherLogThatTheServerHasLost) {
  const std::uint64_t here = store_->point().arrivals;
  ChainTarget first = Target();
  EXPECT_EQ(ReasonOf(first.HearHead(OtherHeadAt(here))), "LOG_FORKED");
  Demand(first.Finish());
  Demand(KeepEpochs(*store_, {EpochAfter(here - 1, here)}));
  ChainTarget second = Target();
  ASSERT_TRUE(second.Apply(Missing()).ok());
  EXPECT_TRUE(second.KeepHead(HeadAt(here + 2)).ok());
  Demand(second.Finish());
  EXPECT_EQ(second.accusation(), std::nullopt);
  EXPECT_EQ(Demand(ReadKnownLog(*store_)).promise, std::nullopt);
}

TEST_F(ChainTargets, DoubtWhatASessionBroughtThatWasKilled) {
  BeKilledInASession();
  const std::vector<Doubt> doubts = DoubtsOfASession();
  ASSERT_THAT(doubts, SizeIs(1));
  EXPECT_EQ(doubts.front().reason, "LOG_FORKED");
  EXPECT_EQ(doubts.front().ours, HeadAt(store_->point().arrivals));
}

TEST_F(ChainTargets, DoubtItNoMoreOnceItIsKept) {
  BeKilledInASession();
  for (const Doubt& doubt : DoubtsOfASession()) Demand(KeepDoubt(*store_, doubt));
  EXPECT_THAT(DoubtsOfASession(), IsEmpty());
  EXPECT_THAT(Demand(ReadDoubts(*store_)), SizeIs(1));
}

TEST_F(ChainTargets, DoubtItNoMoreOnceALossExplainsIt) {
  const std::uint64_t here = store_->point().arrivals;
  BeKilledInASession();
  Demand(KeepEpochs(*store_, {EpochAfter(here - 1, here)}));
  EXPECT_THAT(DoubtsOfASession(), IsEmpty());
  EXPECT_EQ(Demand(store_->Meta(kMetaSeenOther)), "");
}

TEST_F(ChainTargets, DoubtNothingOfALogThatIsHereNoMore) {
  const facts::LogPoint here = store_->point();
  BeKilledInASession();
  Demand(store_->Rewind(here, {}));
  EXPECT_THAT(DoubtsOfASession(), IsEmpty());
}

TEST_F(ChainTargets, HoldTheLogAgainstAllHeadsThatWaitForIt) {
  EXPECT_EQ(ReasonOf(HearOthersThenMiras(kPromisesMax)), "LOG_FORKED");
}

TEST_F(ChainTargets, ForgetTheFirstHeadsOfALogThatNeverComes) {
  const absl::Status status = HearOthersThenMiras(kPromisesMax + 2);
  EXPECT_TRUE(status.ok()) << status;
}

}  // namespace
}  // namespace broodpact::replica
