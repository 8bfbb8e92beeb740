// Goal: what a bundle shows of a log that was lost is found from where it parts, and each part of
// it is proved to have arrived when it did. Method: logs of the test of every size in turn; a proof
// is judged by what the server judges it by, which knows nothing of how it was made.

#include "client/replica/internal/lost_log.h"

#include <gtest/gtest.h>

#include "client/base/status.h"
#include "client/device/key.h"
#include "client/replica/internal/known_log.h"
#include "client/replica/internal/rep.h"
#include "tests/replica/testing/society.h"

namespace broodpact::replica {
namespace {

facts::ArrivalView ArrivalAt(std::uint64_t place) {
  static const std::string kCommits(200, 'c');
  facts::ArrivalView arrival{.commit = std::string_view(kCommits).substr(0, place + 1),
                             .time_ms = 1'000 + static_cast<std::int64_t>(place)};
  // Runs of one, two and three commits.
  if (place % 6 == 0 || place % 6 == 2 || place % 6 == 5) arrival.signature = Signature{};
  if (place % 4 == 0) arrival.first_time_ms = 500;
  return arrival;
}

void Grow(MerkleFrontier& tree, std::uint64_t place) {
  const facts::ArrivalView arrival = ArrivalAt(place);
  ASSERT_TRUE(
      tree.Append(facts::LogLeafHash(Sha256(arrival.commit), facts::TimesOf(arrival))).ok());
}

// A log of `size` arrivals that parts after `common`.
LostLog LogOf(std::uint64_t common, std::uint64_t size) {
  LostLog lost{.head = {}};
  MerkleFrontier tree;
  for (std::uint64_t place = 0; place < size; ++place) {
    if (place == common) lost.tree = tree.Encode();
    if (place >= common) facts::AppendArrival(lost.records, ArrivalAt(place));
    Grow(tree, place);
  }
  lost.head.point.arrivals = size;
  lost.head.tree_root = tree.Root();
  return lost;
}

TEST(LostLog, IsProvedPartByPartWhereverItParts) {
  for (std::uint64_t size = 6; size <= 60; size += 6) {
    for (std::uint64_t common = 0; common < size; ++common) {
      const LostLog lost = LogOf(common, size);
      for (const std::size_t bytes : {std::size_t{1}, std::size_t{700}}) {
        std::uint64_t next = common;
        for (const ProvenPart& one : ProvenPartsOf(lost, bytes)) {
          EXPECT_EQ(one.part.arrivals_before, next);
          const auto proven =
              sync::CheckFirstTimes(one.part.arrivals_before, one.part.records, one.times);
          ASSERT_TRUE(proven.ok()) << size << " " << common << ": " << proven.status();
          next += *proven;
        }
        EXPECT_EQ(next, size);
      }
    }
  }
}

TEST(LostLog, ThatIsDamagedIsProvedByNothing) {
  LostLog lost = LogOf(3, 12);
  lost.tree.pop_back();
  EXPECT_TRUE(ProvenPartsOf(lost, 1).empty());
  lost = LogOf(3, 12);
  lost.records.pop_back();
  EXPECT_TRUE(ProvenPartsOf(lost, 1).empty());
}

class LostLogs : public ::testing::Test {
 protected:
  LostLogs() {
    society_.Found("mira");
    testing::AddGroup(society_, "mira", "hamorii-colima");
    society_.Deliver();
    society_.Close("mira");
    database_ = Open("mira");
  }

  std::unique_ptr<store::Store> Open(const std::string& keeper) {
    return *store::Store::Open(society_.HomeOf(keeper).database(), store::Access::kReadWrite);
  }

  // A log that is as this one is but for its last arrival, which is another, and `more` after it.
  sync::BundleLog OtherLog(std::uint64_t more) {
    const std::uint64_t last = database_->point().arrivals;
    const store::LogSlice slice = *database_->ReadLog(0, 1 << 20);
    sync::BundleLog log{.records = *facts::FirstRecords(slice.records, last - 1)};
    for (std::uint64_t i = 0; i <= more; ++i) facts::AppendArrival(log.records, ArrivalAt(6 * i));
    return log;
  }
  sync::Head HeadOf(const sync::BundleLog& log) {
    MerkleFrontier tree;
    facts::ArrivalReader reader(log.records);
    while (!reader.at_end()) {
      const facts::ArrivalView arrival = *reader.Next();
      EXPECT_TRUE(
          tree.Append(facts::LogLeafHash(Sha256(arrival.commit), facts::TimesOf(arrival))).ok());
    }
    return sync::SignHead(
        log_key_, Hash{},
        {.epoch = 1, .point = {.arrivals = tree.size()}, .tree_root = tree.Root()});
  }
  LostLog Read(const sync::Head& head, const sync::BundleLog& log) {
    LostLogIntake intake(*database_, head);
    EXPECT_TRUE(intake.Add(log).ok());
    return *intake.Finish();
  }

  testing::Society society_;
  std::unique_ptr<store::Store> database_;
  device::SecretKey log_key_ = device::SecretKey::Generate();
};

TEST_F(LostLogs, AreKeptFromWhereTheyPart) {
  const sync::BundleLog log = OtherLog(3);
  const LostLog lost = Read(HeadOf(log), log);
  const std::uint64_t last = database_->point().arrivals;
  ASSERT_TRUE(lost.common.has_value());
  EXPECT_EQ(lost.common->arrivals, last - 1);
  EXPECT_EQ(lost.common->log_hash, *database_->LogHashAt(last - 1));
  std::uint64_t proven = 0;
  for (const ProvenPart& one : ProvenPartsOf(lost, 1)) {
    proven += *sync::CheckFirstTimes(one.part.arrivals_before, one.part.records, one.times);
  }
  EXPECT_EQ(proven, 4U);
  ASSERT_TRUE(KeepLostLog(*database_, lost).ok());
  EXPECT_EQ(*ReadLostLogs(*database_), std::vector<LostLog>{lost});
}

TEST_F(LostLogs, ThatDoNotLeadToTheirHeadAreKeptByTheHeadAlone) {
  const sync::BundleLog log = OtherLog(3);
  sync::Head head = HeadOf(log);
  head.tree_root[0] ^= 1U;
  const LostLog lost = Read(head, log);
  // Nor is it known then what it has in common with this one.
  EXPECT_EQ(lost, LostLog{.head = head});
}

TEST_F(LostLogs, GiveWayToOneThatReachesFarther) {
  const sync::BundleLog shorter = OtherLog(1);
  const sync::BundleLog longer = OtherLog(2);
  const LostLog more = Read(HeadOf(longer), longer);
  ASSERT_TRUE(KeepLostLog(*database_, more).ok());
  ASSERT_TRUE(KeepLostLog(*database_, Read(HeadOf(shorter), shorter)).ok());
  EXPECT_EQ(*ReadLostLogs(*database_), std::vector<LostLog>{more});
}

TEST_F(LostLogs, ThatAreCutShortDoNotSayWhereTheyPart) {
  const sync::BundleLog log = OtherLog(3);
  sync::BundleLog cut{.records = *facts::FirstRecords(log.records, 1)};
  EXPECT_EQ(Read(HeadOf(log), cut), LostLog{.head = HeadOf(log)});
}

TEST_F(LostLogs, AreKeptOfSeveralServersUpToABound) {
  const sync::BundleLog log = OtherLog(1);
  LostLog lost = Read(HeadOf(log), log);
  for (std::size_t i = 0; i < kLostLogsMax; ++i) {
    lost.head.server_key[0] = static_cast<std::uint8_t>(i);
    ASSERT_TRUE(KeepLostLog(*database_, lost).ok());
  }
  EXPECT_EQ(ReadLostLogs(*database_)->size(), kLostLogsMax);
  lost.head.server_key[0] = 0xFF;
  EXPECT_EQ(ReasonOf(KeepLostLog(*database_, lost)), "MAIL_FULL");
}

TEST_F(LostLogs, ThatAreTheLogHereAreNotKept) {
  const facts::LogPoint end = database_->point();
  const sync::Head head =
      sync::SignHead(log_key_, Hash{},
                     {.epoch = 1, .point = end, .tree_root = *database_->TreeRootAt(end.arrivals)});
  ASSERT_TRUE(KeepLostLog(*database_, LostLog{.head = head}).ok());
  EXPECT_TRUE(ReadLostLogs(*database_)->empty());
}

// A server that answers as it is told to, and counts.
class ScriptedServer final : public sync::Recovery {
 public:
  absl::StatusOr<sync::Comparison> Compare(const std::vector<facts::LogPoint>&,
                                           const sync::Remembered&) override {
    return sync::Comparison{};
  }
  absl::StatusOr<sync::Epochs> ReportLoss(const sync::Head&, const facts::LogPoint&) override {
    ++reported;
    BP_RETURN_IF_ERROR(to_report);
    return sync::Epochs{};
  }
  absl::Status GiveBack(const sync::LogPart&, const sync::Head&,
                        const std::vector<Hash>&) override {
    return absl::UnimplementedError("");
  }
  absl::StatusOr<sync::Redelivery> DeliverAgain(
      const sync::LogPart&, const std::optional<sync::FirstTimes>& times) override {
    ++(times ? proven : as_new);
    BP_RETURN_IF_ERROR(times ? to_proof : absl::OkStatus());
    return sync::Redelivery{.arrived = 4};
  }

  absl::Status to_report;
  absl::Status to_proof;
  int reported = 0;
  int proven = 0;
  int as_new = 0;
};

class LostLogsShown : public LostLogs {
 protected:
  LostLogsShown() {
    const sync::BundleLog log = OtherLog(3);
    EXPECT_TRUE(KeepLostLog(*database_, Read(HeadOf(log), log)).ok());
  }
  std::size_t Kept() { return ReadLostLogs(*database_)->size(); }
  static absl::Status With(absl::StatusCode code, const char* reason) {
    return Fail(code, reason, "as the test wants it");
  }

  ScriptedServer server_;
};

TEST_F(LostLogsShown, AreReportedAndArriveWithTheirProofOnce) {
  const auto shown = ShowLostLogs(*database_, server_);
  ASSERT_TRUE(shown.ok()) << shown.status();
  EXPECT_EQ(shown->arrived, 4U);
  EXPECT_FALSE(shown->waits);
  EXPECT_EQ(server_.reported, 1);
  EXPECT_EQ(server_.as_new, 0);
  EXPECT_EQ(Kept(), 0U);
  EXPECT_EQ(ShowLostLogs(*database_, server_)->arrived, 0U);
}

TEST_F(LostLogsShown, AreKeptWhereTheServerIsBusyOrAway) {
  for (const auto& [code, reason] : {std::pair{absl::StatusCode::kResourceExhausted, "SERVER_BUSY"},
                                     std::pair{absl::StatusCode::kUnavailable, "SERVER_AWAY"},
                                     std::pair{absl::StatusCode::kInternal, "SERVER_ANSWER"}}) {
    server_.to_report = With(code, reason);
    server_.to_proof = absl::OkStatus();
    EXPECT_EQ(ReasonOf(ShowLostLogs(*database_, server_).status()), reason);
    server_.to_report = absl::OkStatus();
    server_.to_proof = With(code, reason);
    EXPECT_EQ(ReasonOf(ShowLostLogs(*database_, server_).status()), reason);
    EXPECT_EQ(Kept(), 1U);
  }
  EXPECT_EQ(server_.as_new, 0);
}

TEST_F(LostLogsShown, WaitWhereTheServerDoesNotKnowTheOneThatTheyAreOf) {
  server_.to_report = With(absl::StatusCode::kInvalidArgument, "HEAD_OTHER");
  EXPECT_TRUE(ShowLostLogs(*database_, server_)->waits);
  EXPECT_EQ(server_.proven + server_.as_new, 0);
  EXPECT_EQ(Kept(), 1U);
}

// What nobody has told the server it lost, as it has it: no epoch will ever say so.
TEST_F(LostLogsShown, WaitNoLongerOnceTheLogHereHasComeToThem) {
  database_.reset();
  society_.Enter("tomas");
  society_.Close("mira");
  database_ = Open("tomas");
  const facts::LogPoint before = database_->point();
  database_.reset();
  testing::AddGroup(society_, "mira", "hamorii-jalisco");
  society_.Push("mira");
  society_.Pull("mira");
  const store::Store& mira = society_.At("mira").store();
  const facts::LogPoint end = mira.point();
  const sync::BundleLog log{.records = mira.ReadLog(0, 1 << 20)->records};
  sync::Head head = HeadOf(log);
  head.point = end;
  database_ = Open("tomas");
  const LostLog ahead = Read(head, log);
  ASSERT_EQ(ahead.common, before);
  ASSERT_FALSE(ahead.records.empty());
  ASSERT_TRUE(KeepLostLog(*database_, ahead).ok());
  server_.to_proof = With(absl::StatusCode::kInvalidArgument, "LOSS_UNTOLD");
  EXPECT_TRUE(ShowLostLogs(*database_, server_)->waits);
  EXPECT_EQ(Kept(), 1U);

  database_.reset();
  society_.Pull("tomas");
  database_ = Open("tomas");
  ASSERT_EQ(database_->point(), end);
  EXPECT_FALSE(ShowLostLogs(*database_, server_)->waits);
  EXPECT_EQ(Kept(), 0U);
}

TEST_F(LostLogsShown, ArriveAsNewWhereTheirProofIsNotBelieved) {
  server_.to_proof = With(absl::StatusCode::kInvalidArgument, "PROOF_WRONG");
  EXPECT_EQ(ShowLostLogs(*database_, server_)->arrived, 4U);
  EXPECT_GT(server_.as_new, 0);
  EXPECT_EQ(Kept(), 0U);
}

}  // namespace
}  // namespace broodpact::replica
