// Goal: a server that was put back gets what it lost from those who have it, whichever life of
// theirs wrote it; one that does not stand by its own signature is held to it. Method: real
// replicas and a log behind function calls, which is put back.

#include "client/replica/internal/loss.h"

#include <cstdint>
#include <filesystem>
#include <sstream>
#include <utility>

#include <gmock/gmock.h>

#include "client/base/status.h"
#include "client/replica/acts_animal.h"
#include "client/replica/acts_loan.h"
#include "client/replica/internal/known_log.h"
#include "tests/replica/testing/demand.h"
#include "tests/replica/testing/house.h"

namespace broodpact::replica {
namespace {

using testing::Demand;
using testing::House;
using ::testing::IsEmpty;
using ::testing::SizeIs;

class Losses : public ::testing::Test {
 protected:
  Losses() {
    house_.Found("mira");
    house_.AddGroups("mira", 2);
    kept_ = house_.server().point().arrivals;
  }

  // The newest commit of mira's that the server has of a life.
  facts::ChainHead ArrivedOf(std::uint32_t life) {
    return Demand(house_.server().HeadOf(
        {.device = DeviceOf(house_.At("mira").device_key()), .incarnation = life}));
  }

  House house_;
  std::uint64_t kept_ = 0;  // arrivals that the server still has when it was put back
};

TEST_F(Losses, LeaveWhatWasWrittenInAnyLifeToBeDeliveredAgain) {
  house_.AddGroups("mira", 2);
  house_.Close("mira");
  ASSERT_TRUE(house_.HomeOf("mira").WriteInstall("of another folder").ok());
  house_.AddGroups("mira", 3);
  ASSERT_EQ(house_.At("mira").identity().incarnation, 2U);
  const facts::ChainHead first = ArrivedOf(1);
  const facts::ChainHead second = ArrivedOf(2);

  house_.Lose(kept_);
  const auto synced = house_.Sync("mira");
  ASSERT_TRUE(synced.ok()) << synced.status();
  ASSERT_TRUE(synced->repair.has_value());
  EXPECT_EQ(synced->repair->rewound_to, kept_);
  ASSERT_TRUE(house_.Sync("mira").ok());
  EXPECT_THAT(house_.At("mira").undelivered(), IsEmpty());
  EXPECT_EQ(ArrivedOf(1), first);
  EXPECT_EQ(ArrivedOf(2), second);
}

// Of two copies of a device one has it in the log that its place was taken; the server loses both,
// and a third copy has taken the place once more before that one is there again.
TEST_F(Losses, OfAPlaceThatIsTakenAnewAreStatedAgainByTheSameSync) {
  house_.Close("mira");
  for (const char* const copy : {"second", "third"}) {
    std::filesystem::copy(house_.HomeOf("mira").folder(), house_.HomeOf(copy).folder(),
                          std::filesystem::copy_options::recursive);
  }
  house_.AddGroups("mira", 1);
  house_.AddGroups("second", 1);
  ASSERT_EQ(house_.At("second").identity().incarnation, 2U);
  house_.Lose(kept_);
  house_.AddGroups("third", 1);
  const auto synced = house_.Sync("second");
  ASSERT_TRUE(synced.ok()) << synced.status();
  EXPECT_THAT(house_.At("second").undelivered(), IsEmpty());
  EXPECT_EQ(house_.server().point().arrivals, kept_ + 3) << "a group of each copy";
  EXPECT_EQ(synced->point, house_.server().point());
}

TEST_F(Losses, AreToldOfUntilTheyAreToldAlsoAfterAKillInBetween) {
  house_.AddGroups("mira", 2);
  house_.Lose(kept_);
  Demand(house_.At("mira").Act({facts::GroupEntry{
      .group = GroupId{{7}}, .name = "colima", .taxon = "Brachypelma hamorii"}}));
  house_.door = [](const auto&) { return absl::UnavailableError("cut off when the log is back"); };
  EXPECT_FALSE(house_.Sync("mira").ok());
  house_.door = nullptr;
  house_.Close("mira");
  ASSERT_TRUE(house_.Sync("mira").ok());
  const auto untold = Demand(house_.At("mira").UntoldRepair());
  ASSERT_TRUE(untold.has_value());
  EXPECT_EQ(untold->rewound_to, kept_);
  Demand(house_.At("mira").ForgetRepair());
  EXPECT_EQ(Demand(house_.At("mira").UntoldRepair()), std::nullopt);
}

// What was final is told to everybody when it becomes something else, not to its author alone.
TEST_F(Losses, AfterWhichSomethingCountsOtherwiseTellEverybody) {
  house_.Enter("tomas");
  house_.Enter("iva");
  kept_ = house_.server().point().arrivals;
  const auto take_name = [&](const std::string& keeper, std::uint8_t id) {
    Demand(house_.At(keeper).Act({facts::GroupEntry{
        .group = GroupId{{id}}, .name = "colima", .taxon = "Brachypelma hamorii"}}));
    Demand(house_.Sync(keeper));
  };
  take_name("mira", 7);
  Demand(house_.Sync("iva"));
  house_.Lose(kept_);
  take_name("tomas", 8);
  Demand(house_.Sync("mira"));
  Demand(house_.Sync("mira"));
  const replica::Synced synced = Demand(house_.Sync("iva"));
  ASSERT_THAT(synced.changed, SizeIs(1));
  EXPECT_EQ(synced.changed.front().before.reason, "");
  EXPECT_EQ(synced.changed.front().after.reason, "NAME_TAKEN");
  EXPECT_THAT(Demand(house_.Sync("iva")).changed, IsEmpty());
}

// An offer of mira's that tomas signs on its last day; then the server loses both, and iva has made
// the log go on by the time that the tail comes, weeks later.
class LossesAndDays : public Losses {
 protected:
  LossesAndDays() {
    house_.Enter("tomas");
    house_.Enter("iva");
    const Made<GroupId> group =
        Demand(EnterGroup(house_.At("mira"), {.name = "g", .taxon = "Brachypelma hamorii"}));
    const Made<AnimalId> bruno = Demand(EnterAnimal(
        house_.At("mira"), {.group = group.id, .name = "bruno", .sex = facts::Sex::kMale}));
    house_.AddGroups("mira", 1);
    house_.AddGroups("tomas", 1);
    house_.AddGroups("iva", 1);
    kept_ = house_.server().point().arrivals;
    const KeeperId mira = house_.At("mira").identity().keeper;
    const KeeperId tomas = house_.At("tomas").identity().keeper;
    facts::Terms terms;
    terms.parties = {{.keeper = mira, .role = facts::PartyRole::kMaleOwner},
                     {.keeper = tomas, .role = facts::PartyRole::kFemaleOwner}};
    terms.shares = {{.party = 0, .weight = 1}, {.party = 1, .weight = 1}};
    loan_ = Demand(ProposeLoan(house_.At("mira"), {.animal = bruno.id,
                                                   .lender = mira,
                                                   .borrower = tomas,
                                                   .return_day = {},
                                                   .terms = terms,
                                                   .name = "L1",
                                                   .open_until = house_.clock().Today()}))
                .id;
    Demand(house_.Sync("mira"));
    Demand(house_.Sync("tomas"));
    Demand(SignLoan(house_.At("tomas"), loan_));
    Demand(house_.Sync("tomas"));
    signed_ms_ = house_.clock().NowMillis();
  }

  void LoseAndGoOn() {
    house_.Lose(kept_);
    house_.clock().AdvanceDays(20);
    house_.AddGroups("iva", 1);
    Demand(house_.Sync("tomas"));
  }

  registry::Loan LoanAt(const std::string& keeper) {
    return *Demand(registry::Read<registry::Loan>(house_.At(keeper).store(), loan_));
  }
  std::optional<std::int64_t> LastFirstTime() {
    const std::uint64_t last = house_.server().point().arrivals;
    return Demand(house_.server().ReadArrival(last)).first_time_ms;
  }

  LoanId loan_;
  std::int64_t signed_ms_ = 0;
};

TEST_F(LossesAndDays, TurnNothingThatWasInTimeIntoSomethingLate) {
  house_.again = House::Again::kProved;
  LoseAndGoOn();
  for (const std::string keeper : {"tomas", "mira", "iva"}) {
    Demand(house_.Sync(keeper));
    EXPECT_EQ(LoanAt(keeper).state, registry::LoanState::kInForce) << keeper;
    EXPECT_EQ(LoanAt(keeper).in_force_time_ms, signed_ms_) << keeper;
  }
  EXPECT_EQ(LastFirstTime(), signed_ms_);
  EXPECT_TRUE(Demand(house_.At("iva").Verify()).faults.empty());
}

TEST_F(LossesAndDays, KeepTheVeryFirstTimeWhenTheServerLosesItOnceMore) {
  house_.again = House::Again::kProved;
  LoseAndGoOn();
  LoseAndGoOn();
  EXPECT_EQ(LastFirstTime(), signed_ms_);
  EXPECT_EQ(LoanAt("tomas").state, registry::LoanState::kInForce);
}

TEST_F(LossesAndDays, LetWhatNobodyBelievesArriveAsNew) {
  house_.again = House::Again::kAsNew;
  LoseAndGoOn();
  EXPECT_EQ(LastFirstTime(), std::nullopt);
  EXPECT_THAT(house_.At("tomas").undelivered(), IsEmpty());
  EXPECT_EQ(LoanAt("tomas").state, registry::LoanState::kOffered);
}

TEST_F(Losses, AreNoDoubtWhileTheServerDoesNotAnswer) {
  house_.AddGroups("mira", 2);
  house_.Lose(kept_);
  house_.answer_to_loss = Fail(absl::StatusCode::kUnavailable, "SERVER_AWAY", "the server is away");
  EXPECT_EQ(ReasonOf(house_.Sync("mira").status()), "SERVER_AWAY");
  EXPECT_THAT(*house_.At("mira").Doubts(), IsEmpty());
  house_.answer_to_loss = absl::OkStatus();
  const auto synced = house_.Sync("mira");
  EXPECT_TRUE(synced.ok()) << synced.status();
  EXPECT_THAT(*house_.At("mira").Doubts(), IsEmpty());
}

// Two recover at once: what the one finds missing the other has given back before it is reported.
TEST_F(Losses, ThatSomebodyElseGivesBackMeanwhileAreNoDoubt) {
  house_.AddGroups("mira", 2);
  const std::uint64_t all = house_.server().point().arrivals;
  house_.Lose(kept_);
  house_.on_loss = [&] { house_.Regain(all); };
  const auto synced = house_.Sync("mira");
  ASSERT_TRUE(synced.ok()) << synced.status();
  EXPECT_EQ(synced->repair, std::nullopt);
  EXPECT_THAT(*house_.At("mira").Doubts(), IsEmpty());
  EXPECT_THAT(Demand(ReadKnownLog(house_.At("mira").store())).epochs, IsEmpty());
}

TEST_F(Losses, OfWhatWasPromisedThatSomebodyElseGivesBackMeanwhileAreNoDoubt) {
  house_.Enter("tomas");
  Demand(house_.Sync("tomas"));
  kept_ = house_.server().point().arrivals;
  house_.AddGroups("mira", 2);
  const std::uint64_t all = house_.server().point().arrivals;
  house_.ranges_left = 0;
  ASSERT_EQ(ReasonOf(house_.Sync("tomas").status()), "SERVER_AWAY");
  house_.ranges_left.reset();
  house_.Lose(kept_);
  house_.on_loss = [&] { house_.Regain(all); };
  const auto synced = house_.Sync("tomas");
  ASSERT_TRUE(synced.ok()) << synced.status();
  EXPECT_EQ(synced->point, house_.server().point());
  EXPECT_THAT(*house_.At("tomas").Doubts(), IsEmpty());
}

// So many arrivals that one comparison does not find where the logs part; of two runs that the
// server loses, others give back some before the second one.
class LossesOfALongLog : public Losses {
 protected:
  static constexpr std::uint64_t kLeft = 49;
  static constexpr std::uint64_t kHalf = 70;
  static constexpr std::uint64_t kAll = 100;

  LossesOfALongLog() {
    for (const std::uint64_t arrivals : {kLeft, kHalf, kAll}) {
      house_.AddGroups("mira", static_cast<int>(arrivals - house_.server().point().arrivals));
    }
    house_.Lose(kLeft);
  }

  void RegainBetweenComparisons(std::uint64_t arrivals) {
    house_.on_comparison = [this, arrivals] {
      if (++comparisons_ == 2) house_.Regain(arrivals);
    };
  }

  int comparisons_ = 0;
};

TEST_F(LossesOfALongLog, ThatAreMadeGoodBetweenTwoComparisonsAreNoDoubt) {
  RegainBetweenComparisons(kAll);
  const auto synced = house_.Sync("mira");
  ASSERT_TRUE(synced.ok()) << synced.status();
  EXPECT_EQ(synced->repair, std::nullopt);
  EXPECT_THAT(*house_.At("mira").Doubts(), IsEmpty());
  EXPECT_THAT(Demand(ReadKnownLog(house_.At("mira").store())).epochs, IsEmpty());
}

TEST_F(LossesOfALongLog, ThatAreHalfMadeGoodBetweenTwoComparisonsCountFromThereOn) {
  RegainBetweenComparisons(kHalf);
  const auto synced = house_.Sync("mira");
  ASSERT_TRUE(synced.ok()) << synced.status();
  ASSERT_TRUE(synced->repair.has_value());
  EXPECT_EQ(synced->repair->rewound_to, kHalf);
  const sync::Epochs epochs = Demand(ReadKnownLog(house_.At("mira").store())).epochs;
  ASSERT_THAT(epochs, SizeIs(1));
  EXPECT_EQ(epochs.front().common.arrivals, kHalf);
}

// A server with another log, which says of a head of its own that nothing of it is lost.
class DenyingServer final : public sync::Recovery {
 public:
  explicit DenyingServer(sync::Head head) : head_(std::move(head)) {}

  absl::StatusOr<sync::Comparison> Compare(const std::vector<facts::LogPoint>&,
                                           const sync::Remembered&) override {
    return sync::Comparison{.matching = 0, .head = head_, .epochs = {}, .matching_head = {}};
  }
  absl::StatusOr<sync::Epochs> ReportLoss(const sync::Head&, const facts::LogPoint&) override {
    return sync::Epochs{};
  }
  absl::Status GiveBack(const sync::LogPart&, const sync::Head&,
                        const std::vector<Hash>&) override {
    return absl::UnimplementedError("");
  }
  absl::StatusOr<sync::Redelivery> DeliverAgain(const sync::LogPart&,
                                                const std::optional<sync::FirstTimes>&) override {
    return absl::UnimplementedError("");
  }

 private:
  sync::Head head_;
};

TEST_F(Losses, ThatTheServerDeniesThoughItsLogIsAnotherConvictIt) {
  const store::Store& log = house_.At("mira").store();
  const KnownLog known = Demand(ReadKnownLog(log));
  ASSERT_TRUE(known.head.has_value());
  DenyingServer server(*known.head);
  const LossRepair::Result result = Demand(LossRepair(log, server, known).Run());
  ASSERT_TRUE(result.doubt.has_value());
  EXPECT_EQ(result.doubt->reason, "LOG_FORKED");
  EXPECT_EQ(result.rewind_to, std::nullopt);
}

TEST_F(Losses, ThatAServerPutsOffForEverConvictItAlsoByTheLogAlone) {
  house_.AddGroups("mira", 2);
  house_.Lose(kept_);
  house_.answer_to_loss = Fail(absl::StatusCode::kFailedPrecondition, "LOG_OTHER", "compare again");
  EXPECT_EQ(ReasonOf(house_.Sync("mira").status()), "LOG_FORKED");
  EXPECT_THAT(*house_.At("mira").Doubts(), SizeIs(1));
}

// Her second commit has seen the first at a place that is lost; tomas gets both before he is told.
TEST_F(Losses, ThatAreToldAfterWhatTheyExplainAreNoDoubt) {
  house_.Enter("tomas");
  kept_ = house_.server().point().arrivals;
  house_.AddGroups("mira", 1);
  Demand(
      house_.At("mira")
          .Act({facts::GroupEntry{.group = GroupId{{77}}, .name = "second", .taxon = "B. boehmei"}})
          .status());
  house_.Lose(kept_);
  house_.clock().Advance(1'000);
  house_.AddGroups("mira", 1);
  house_.AddGroups("mira", 1);
  house_.tells_losses_last = true;
  house_.slice_bytes = 1;
  house_.ranges_left = 1;
  EXPECT_EQ(ReasonOf(house_.Sync("tomas").status()), "SERVER_AWAY");
  ASSERT_EQ(house_.At("tomas").store().point().arrivals, kept_ + 3);
  EXPECT_THAT(*house_.At("tomas").Doubts(), IsEmpty());
}

// The device is cut off while it gives back what the server lost.
TEST_F(Losses, AreNoDoubtOfADeviceThatIsCutOffMeanwhile) {
  house_.AddGroups("mira", 2);
  house_.Lose(kept_);
  house_.answer_to_loss =
      Fail(absl::StatusCode::kPermissionDenied, "DEVICE_REVOKED", "the laptop is lost");
  EXPECT_EQ(ReasonOf(house_.Sync("mira").status()), "DEVICE_REVOKED");
  EXPECT_THAT(*house_.At("mira").Doubts(), IsEmpty());
}

// tomas heard a head of arrivals of mira's that never came to him; then the server loses them, and
// iva's fill their place and more before he is there again.
class LossesOfWhatWasPromised : public Losses {
 protected:
  LossesOfWhatWasPromised() {
    house_.Enter("tomas");
    house_.Enter("iva");
    Demand(house_.Sync("tomas"));
    kept_ = house_.server().point().arrivals;
    house_.AddGroups("mira", 2);
    house_.ranges_left = 0;
    EXPECT_EQ(ReasonOf(house_.Sync("tomas").status()), "SERVER_AWAY");
    house_.ranges_left.reset();
    house_.Lose(kept_);
    house_.AddGroups("iva", 3);
  }
};

TEST_F(LossesOfWhatWasPromised, AreToldToTheServerAndAreNoDoubtThen) {
  const auto synced = house_.Sync("tomas");
  ASSERT_TRUE(synced.ok()) << synced.status();
  EXPECT_EQ(house_.At("tomas").store().point(), house_.server().point());
  EXPECT_EQ(Demand(house_.At("tomas").LastHead())->epoch, facts::kFirstEpoch + 1);
  EXPECT_THAT(*house_.At("tomas").Doubts(), IsEmpty());
}

TEST_F(LossesOfWhatWasPromised, ConvictAServerThatDoesNotStandByItsWord) {
  house_.answer_to_loss =
      Fail(absl::StatusCode::kInvalidArgument, "HEAD_OTHER", "that head is of no log here");
  EXPECT_EQ(ReasonOf(house_.Sync("tomas").status()), "LOG_FORKED");
  EXPECT_THAT(*house_.At("tomas").Doubts(), SizeIs(1));
}

// What is no answer to the question of what the server lost.
TEST_F(LossesOfWhatWasPromised, AreNoDoubtWhileNobodySaysAnythingOfThem) {
  const std::vector<absl::Status> nothing_said = {
      Fail(absl::StatusCode::kResourceExhausted, "SERVER_BUSY", "sync again in a minute"),
      Fail(absl::StatusCode::kPermissionDenied, "SERVER_OTHER", "somebody else answers"),
      Fail(absl::StatusCode::kPermissionDenied, "DEVICE_REVOKED", "the laptop is lost"),
      Fail(absl::StatusCode::kUnauthenticated, "CERTIFICATE_EXPIRED", "not good any more"),
      Fail(absl::StatusCode::kInternal, "SERVER_ANSWER", "a disk failed")};
  for (const absl::Status& status : nothing_said) {
    house_.answer_to_loss = status;
    EXPECT_EQ(ReasonOf(house_.Sync("tomas").status()), ReasonOf(status));
    EXPECT_THAT(*house_.At("tomas").Doubts(), IsEmpty()) << status;
  }
  house_.answer_to_loss = absl::OkStatus();
  Demand(house_.Sync("tomas"));
}

TEST_F(LossesOfWhatWasPromised, ConvictAServerThatPutsOffItsAnswerForEver) {
  house_.answer_to_loss = Fail(absl::StatusCode::kFailedPrecondition, "LOG_OTHER", "compare again");
  EXPECT_EQ(ReasonOf(house_.Sync("tomas").status()), "LOG_FORKED");
  EXPECT_THAT(*house_.At("tomas").Doubts(), SizeIs(1));
}

TEST_F(LossesOfWhatWasPromised, ConvictItAlsoWhereTheCallBreaksOffBeforeItsHead) {
  house_.answer_to_loss =
      Fail(absl::StatusCode::kInvalidArgument, "HEAD_OTHER", "that head is of no log here");
  house_.slice_bytes = 1;
  house_.ranges_left = 2;
  EXPECT_EQ(ReasonOf(house_.Sync("tomas").status()), "LOG_FORKED");
  EXPECT_THAT(*house_.At("tomas").Doubts(), SizeIs(1));
}

TEST_F(LossesOfWhatWasPromised, PartWhereTheLogStoodThenWhateverABundleHasBroughtSince) {
  Demand(house_.Sync("iva"));
  std::stringstream bundle;
  Demand(house_.At("iva").WriteBundle(bundle, {}).status());
  Demand(house_.At("tomas").ReadBundle(bundle).status());
  ASSERT_EQ(house_.At("tomas").store().point(), house_.server().point());
  const auto synced = house_.Sync("tomas");
  ASSERT_TRUE(synced.ok()) << synced.status();
  const sync::Epochs epochs = Demand(ReadKnownLog(house_.At("tomas").store())).epochs;
  ASSERT_THAT(epochs, SizeIs(1));
  EXPECT_EQ(epochs.front().common.arrivals, kept_);
}

// A session hears a head of another log, of as many arrivals as there are; nobody answers when the
// server is asked about it, and no session hears of it again.
class LossesAndAHeadOfAnotherLog : public Losses {
 protected:
  LossesAndAHeadOfAnotherLog() {
    house_.forks_at = kept_;
    house_.answer_to_comparison =
        Fail(absl::StatusCode::kInternal, "SERVER_ANSWER", "a disk failed");
    EXPECT_EQ(ReasonOf(house_.Sync("mira").status()), "SERVER_ANSWER");
    EXPECT_THAT(*house_.At("mira").Doubts(), IsEmpty());
    house_.forks_at.reset();
    house_.answer_to_comparison = absl::OkStatus();
  }
};

TEST_F(LossesAndAHeadOfAnotherLog, ConvictAServerThatDoesNotStandByItOnceItAnswers) {
  house_.answer_to_loss =
      Fail(absl::StatusCode::kInvalidArgument, "HEAD_OTHER", "that head is of no log here");
  EXPECT_EQ(ReasonOf(house_.Sync("mira").status()), "LOG_FORKED");
  EXPECT_THAT(*house_.At("mira").Doubts(), SizeIs(1));
}

TEST_F(LossesAndAHeadOfAnotherLog, StandInNobodysWayOnceTheServerTellsThem) {
  const facts::LogPoint place = house_.At("mira").store().point();
  const auto synced = house_.Sync("mira");
  ASSERT_TRUE(synced.ok()) << synced.status();
  EXPECT_EQ(synced->point, place);
  EXPECT_THAT(*house_.At("mira").Doubts(), IsEmpty());
  EXPECT_EQ(Demand(ReadKnownLog(house_.At("mira").store())).promise, std::nullopt);
  house_.AddGroups("mira", 1);
  EXPECT_EQ(house_.At("mira").store().point(), house_.server().point());
}

// How a server refuses what it signed itself.
class LossesThatAre : public Losses, public ::testing::WithParamInterface<absl::StatusCode> {};

TEST_P(LossesThatAre, RefusedConvictTheServer) {
  house_.AddGroups("mira", 2);
  const facts::LogPoint place = house_.At("mira").store().point();
  house_.Lose(kept_);
  house_.answer_to_loss = Fail(GetParam(), "HEAD_OTHER", "that head is of no log here");
  EXPECT_EQ(ReasonOf(house_.Sync("mira").status()), "LOG_FORKED");
  EXPECT_THAT(*house_.At("mira").Doubts(), SizeIs(1));
  EXPECT_EQ(house_.At("mira").store().point(), place);
}

INSTANTIATE_TEST_SUITE_P(Answers, LossesThatAre,
                         ::testing::Values(absl::StatusCode::kInvalidArgument,
                                           absl::StatusCode::kPermissionDenied,
                                           absl::StatusCode::kUnimplemented));

}  // namespace
}  // namespace broodpact::replica
