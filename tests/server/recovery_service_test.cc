// Goal: a server has back what it lost, by whoever holds its own signed word for it, and by nobody
// else. Method: a real server whose folder is put back to an earlier state, and the client's own
// way of asking.

#include "server/recovery_service.h"

#include <filesystem>

#include <grpcpp/grpcpp.h>
#include <gtest/gtest.h>

#include "client/base/merkle_proof.h"
#include "client/base/status.h"
#include "client/sync/first_times.h"
#include "client/sync/recovery.h"
#include "client/sync/server_code.h"
#include "tests/server/trial_server.h"

namespace broodpact::server {
namespace {

class RecoveryTest : public Cooperative {
 protected:
  // The server forgets all that mira delivers from here on.
  void LoseCommitsOfMira(int count) {
    const std::filesystem::path saved = server_.folder() / "saved";
    server_.Stop();
    database_ = Database();
    std::filesystem::copy(database_, saved, std::filesystem::copy_options::recursive);
    server_.Start();
    mira_.credentials().address = server_.server().address();
    mira_.CommitGroups(count);
    ASSERT_TRUE(mira_.Sync().ok());
    PutBack();
  }

  // The server is as it was when the folder was saved.
  void PutBack() {
    server_.Stop();
    std::filesystem::remove_all(database_);
    std::filesystem::copy(server_.folder() / "saved", database_,
                          std::filesystem::copy_options::recursive);
    Restart();
  }

  void Restart() {
    server_.Start();
    mira_.credentials().address = server_.server().address();
    tomas_.credentials().address = server_.server().address();
  }

  // When what was written by a member arrived, by the server's log, in order.
  std::vector<facts::ArrivalTimes> TimesOf(const Member& author) {
    server_.Stop();
    std::vector<facts::ArrivalTimes> times;
    {
      const auto log = store::Store::Open(database_ / "database", store::Access::kReadOnly);
      EXPECT_TRUE(log.ok()) << log.status();
      EXPECT_TRUE((*log)
                      ->VisitArrivals(1, (*log)->point().arrivals,
                                      [&](std::uint64_t, const store::StoredArrival& stored) {
                                        const auto commit = facts::ParseCommit(stored.bytes);
                                        if (facts::ChainOf(commit->header) == author.chain()) {
                                          times.push_back(facts::TimesOf(stored));
                                        }
                                        return absl::OkStatus();
                                      })
                      .ok());
    }
    Restart();
    return times;
  }

  // The folder of the server's database: the only one beside its keys that is a folder.
  std::filesystem::path Database() const {
    for (const auto& entry : std::filesystem::directory_iterator(server_.folder())) {
      if (entry.is_directory() && entry.path().filename() != "saved") return entry.path();
    }
    return {};
  }

  std::unique_ptr<sync::Recovery> Open() {
    return *sync::OpenRecovery(mira_.credentials(), mira_.cooperative(),
                               device::SystemClock().NowMillis());
  }

  facts::LogPoint PlaceOfMira(std::uint64_t arrivals) {
    return {.arrivals = arrivals, .log_hash = *mira_.store().LogHashAt(arrivals)};
  }
  sync::LogPart PartOfMira(std::uint64_t before) {
    return {.arrivals_before = before, .records = mira_.store().ReadLog(before, 1 << 20)->records};
  }
  std::vector<Hash> ProofOfMira(std::uint64_t first) {
    return *ConsistencyProof(*mira_.store().TreeNodes(), first, mira_.point().arrivals);
  }

  // `member` shows the server the head of what it lost after `before`.
  void Report(Member& member, std::uint64_t before) {
    const auto recovery = *sync::OpenRecovery(member.credentials(), member.cooperative(),
                                              device::SystemClock().NowMillis());
    const facts::LogPoint common{.arrivals = before, .log_hash = *member.store().LogHashAt(before)};
    const auto told = recovery->ReportLoss(*member.head(), common);
    ASSERT_TRUE(told.ok()) << told.status();
  }
  // What proves the times of all that a member has after `before`.
  static sync::FirstTimes ProofOf(const Member& member, std::uint64_t before) {
    return **sync::ProveFirstTimes(*member.store().TreeNodes(), *member.head(), before,
                                   member.point().arrivals - before);
  }

  std::filesystem::path database_;
};

TEST_F(RecoveryTest, TakesBackWhatItHasSignedAtTheSamePlaces) {
  const std::uint64_t before = mira_.Sync()->arrivals;
  LoseCommitsOfMira(300);
  const auto recovery = Open();
  const auto compared = recovery->Compare({PlaceOfMira(before), mira_.point()}, {});
  ASSERT_TRUE(compared.ok()) << compared.status();
  EXPECT_EQ(compared->matching, 1U);
  EXPECT_EQ(compared->head.point.arrivals, before);
  ASSERT_TRUE(recovery->GiveBack(PartOfMira(before), *mira_.head(), {}).ok());
  const auto after = recovery->Compare({PlaceOfMira(before), mira_.point()}, {});
  EXPECT_EQ(after->matching, 2U);
  EXPECT_EQ(after->head.point, mira_.point());
  EXPECT_EQ(after->head.epoch, facts::kFirstEpoch);
  EXPECT_TRUE(tomas_.Sync().ok());
  EXPECT_EQ(tomas_.point(), mira_.point());
}

TEST_F(RecoveryTest, TakesBackNothingThatDoesNotLeadToItsHead) {
  const std::uint64_t before = mira_.Sync()->arrivals;
  LoseCommitsOfMira(20);
  const auto recovery = Open();
  // Other times, and so another log.
  sync::LogPart other{.arrivals_before = before, .records = {}};
  const sync::LogPart honest = PartOfMira(before);
  facts::ArrivalReader reader(honest.records);
  while (!reader.at_end()) {
    facts::ArrivalView view = *reader.Next();
    ++view.time_ms;
    facts::AppendArrival(other.records, view);
  }
  EXPECT_EQ(ReasonOf(recovery->GiveBack(other, *mira_.head(), {})), "PROOF_WRONG");
  // A head of somebody who is no server, and one that was changed.
  const device::SecretKey thief = device::SecretKey::Generate();
  const sync::Head forged = sync::SignHead(thief, mira_.cooperative(), *mira_.head());
  EXPECT_EQ(ReasonOf(recovery->GiveBack(honest, forged, {})), "HEAD_OTHER");
  sync::Head changed = *mira_.head();
  ++changed.point.arrivals;
  EXPECT_EQ(ReasonOf(recovery->GiveBack(honest, changed, {})), "HEAD_SIGNATURE_BAD");
  EXPECT_EQ(recovery->Compare({mira_.point()}, {})->matching, 0U);
  // What is no part of a log at all.
  EXPECT_EQ(ReasonOf(recovery->GiveBack({.arrivals_before = before, .records = "nonsense"},
                                        *mira_.head(), {})),
            "RECORD_FORM");
  EXPECT_EQ(
      ReasonOf(recovery->GiveBack({.arrivals_before = before, .records = ""}, *mira_.head(), {})),
      "RECORD_FORM");
}

TEST_F(RecoveryTest, SaysThatTheLogHasGoneOnMeanwhile) {
  const std::uint64_t before = mira_.Sync()->arrivals;
  LoseCommitsOfMira(5);
  tomas_.CommitGroups(1);
  ASSERT_TRUE(tomas_.Sync().ok());
  EXPECT_EQ(ReasonOf(Open()->GiveBack(PartOfMira(before), *mira_.head(), {})), "LOG_MOVED");
}

TEST_F(RecoveryTest, BeginsOneEpochForALossAndNoMore) {
  const std::uint64_t before = mira_.Sync()->arrivals;
  LoseCommitsOfMira(5);
  tomas_.CommitGroups(1);
  ASSERT_TRUE(tomas_.Sync().ok());
  const auto recovery = Open();
  const auto told = recovery->ReportLoss(*mira_.head(), PlaceOfMira(before));
  ASSERT_TRUE(told.ok()) << told.status();
  ASSERT_EQ(told->size(), 1U);
  EXPECT_EQ(told->front().epoch, 2U);
  EXPECT_EQ(told->front().common, PlaceOfMira(before));
  EXPECT_EQ(told->front().lost_arrivals, mira_.point().arrivals);
  EXPECT_EQ(*recovery->ReportLoss(*mira_.head(), PlaceOfMira(before)), *told);
  EXPECT_EQ(recovery->Compare({PlaceOfMira(before)}, {})->head.epoch, 2U);
  // It is said to everybody who syncs, and after a restart.
  server_.Stop();
  server_.Start();
  mira_.credentials().address = server_.server().address();
  EXPECT_EQ(Open()->Compare({PlaceOfMira(before)}, {})->epochs, *told);
}

TEST_F(RecoveryTest, TellsOfALossAnewWhereItGoesFartherBackAndNotForEver) {
  mira_.CommitGroups(30);
  const std::uint64_t before = mira_.Sync()->arrivals;
  LoseCommitsOfMira(5);
  const auto told_at = [&](std::uint64_t place) {
    const auto told = Open()->ReportLoss(*mira_.head(), PlaceOfMira(place));
    EXPECT_TRUE(told.ok()) << told.status();
    return *told;
  };
  EXPECT_EQ(told_at(before).size(), 1U);
  // Of a place that lies behind it nothing more is to be said.
  EXPECT_EQ(told_at(before).size(), 1U);
  const sync::Epochs farther = told_at(before - 2);
  ASSERT_EQ(farther.size(), 2U);
  EXPECT_EQ(sync::PartingOf(farther, *mira_.head()), PlaceOfMira(before - 2));
  EXPECT_EQ(told_at(before - 1), farther);
  for (std::uint64_t back = 3; back < 20; ++back) told_at(before - back);
  EXPECT_LE(told_at(before - 20).size(), 9U);
}

TEST_F(RecoveryTest, BeginsAnEpochForAHeadOfAServerThatARegistrarLeft) {
  const std::uint64_t arrivals = mira_.Sync()->arrivals;
  const device::SecretKey other = device::SecretKey::Generate();
  facts::HeadClaim claim = *mira_.head();
  ++claim.point.arrivals;
  claim.epoch = 7;
  const sync::Head head = sync::SignHead(other, mira_.cooperative(), claim);
  const auto by_tomas = sync::OpenRecovery(tomas_.credentials(), mira_.cooperative(),
                                           device::SystemClock().NowMillis());
  // Anybody can make up a key.
  EXPECT_EQ(ReasonOf((*by_tomas)->ReportLoss(head, PlaceOfMira(arrivals)).status()), "HEAD_OTHER");
  EXPECT_TRUE(Open()->Compare({PlaceOfMira(arrivals)}, {})->epochs.empty());
  const auto told = Open()->ReportLoss(head, PlaceOfMira(arrivals));
  ASSERT_TRUE(told.ok()) << told.status();
  ASSERT_EQ(told->size(), 1U);
  EXPECT_EQ(told->front().epoch, 8U);
  // Once a registrar has, the others may: they come from there too.
  ++claim.point.arrivals;
  const sync::Head further = sync::SignHead(other, mira_.cooperative(), claim);
  EXPECT_TRUE((*by_tomas)->ReportLoss(further, PlaceOfMira(arrivals)).ok());
}

TEST_F(RecoveryTest, BelievesHeadsOfAServerThatARegistrarsCodeLedTo) {
  const std::uint64_t arrivals = mira_.Sync()->arrivals;
  const device::SecretKey other = device::SecretKey::Generate();
  facts::HeadClaim claim = *mira_.head();
  ++claim.point.arrivals;
  const sync::Head head = sync::SignHead(other, mira_.cooperative(), claim);
  const auto code_by = [&](const Member& author, const Hash& cooperative) {
    sync::ServerCode code{.cooperative = cooperative,
                          .server_key = other.public_key(),
                          .named_by = author.chain().device,
                          .address = "brood.example:7443"};
    code.signature = author.key().Sign(sync::ServerCodeMessage(code));
    return code;
  };
  const auto told_by_tomas = [&](const std::string& code) {
    const auto by_tomas = *sync::OpenRecovery(tomas_.credentials(), mira_.cooperative(),
                                              device::SystemClock().NowMillis());
    EXPECT_TRUE(by_tomas->Compare({PlaceOfMira(arrivals)}, {.server_codes = {code}}).ok());
    return ReasonOf(by_tomas->ReportLoss(head, PlaceOfMira(arrivals)).status());
  };
  EXPECT_EQ(told_by_tomas("no code"), "HEAD_OTHER");
  // Tomas is no registrar, and may not pass for one.
  EXPECT_EQ(told_by_tomas(sync::BuildServerCode(code_by(tomas_, mira_.cooperative()))),
            "HEAD_OTHER");
  sync::ServerCode forged = code_by(tomas_, mira_.cooperative());
  forged.named_by = mira_.chain().device;
  EXPECT_EQ(told_by_tomas(sync::BuildServerCode(forged)), "HEAD_OTHER");
  EXPECT_EQ(told_by_tomas(sync::BuildServerCode(code_by(mira_, Sha256("another")))), "HEAD_OTHER");
  EXPECT_EQ(told_by_tomas(sync::BuildServerCode(code_by(mira_, mira_.cooperative()))), "");
}

TEST_F(RecoveryTest, TellsOfLossesThatAServerThatWasLeftToldOf) {
  const std::uint64_t arrivals = mira_.Sync()->arrivals;
  const device::SecretKey other = device::SecretKey::Generate();
  const sync::Epochs told = {sync::SignEpoch(other, mira_.cooperative(),
                                             {.epoch = 5,
                                              .common = PlaceOfMira(arrivals - 1),
                                              .lost_arrivals = arrivals + 40,
                                              .time_ms = 1})};
  // Of one that nobody knows anybody can tell.
  EXPECT_TRUE(Open()->Compare({PlaceOfMira(arrivals)}, {.epochs = told})->epochs.empty());
  facts::HeadClaim claim = *mira_.head();
  ++claim.point.arrivals;
  claim.epoch = 7;
  const sync::Head head = sync::SignHead(other, mira_.cooperative(), claim);
  ASSERT_TRUE(Open()->ReportLoss(head, PlaceOfMira(arrivals)).ok());
  const auto compared = Open()->Compare({PlaceOfMira(arrivals)}, {.epochs = told});
  ASSERT_EQ(compared->epochs.size(), 2U);
  EXPECT_EQ(compared->epochs.front().epoch, 5U);
  EXPECT_EQ(compared->epochs.front().lost_arrivals, arrivals + 40);
  EXPECT_EQ(compared->epochs.front().server_key, compared->head.server_key);
  EXPECT_EQ(Open()->Compare({PlaceOfMira(arrivals)}, {.epochs = told})->epochs, compared->epochs);
}

TEST_F(RecoveryTest, BelievesNoHeadWithoutMeasure) {
  const std::uint64_t arrivals = mira_.Sync()->arrivals;
  const device::SecretKey other = device::SecretKey::Generate();
  const auto reason = [&](std::uint32_t epoch, std::uint64_t head_arrivals) {
    facts::HeadClaim claim = *mira_.head();
    claim.epoch = epoch;
    claim.point.arrivals = head_arrivals;
    const sync::Head head = sync::SignHead(other, mira_.cooperative(), claim);
    return ReasonOf(Open()->ReportLoss(head, PlaceOfMira(arrivals)).status());
  };
  EXPECT_EQ(reason(0xFFFF'FFFF, arrivals + 1), "HEAD_SIGNATURE_BAD");
  EXPECT_EQ(reason(0x8000'0000, arrivals + 1), "HEAD_SIGNATURE_BAD");
  EXPECT_EQ(reason(0x7FFF'FFFF, arrivals + 1), "HEAD_OTHER");
  EXPECT_EQ(reason(2, ~std::uint64_t{0}), "HEAD_OTHER");
  EXPECT_TRUE(Open()->Compare({PlaceOfMira(arrivals)}, {})->epochs.empty());
}

TEST_F(RecoveryTest, BeginsNoEpochForAHeadOfItsLog) {
  ASSERT_TRUE(mira_.Sync().ok());
  const auto told = Open()->ReportLoss(*mira_.head(), mira_.point());
  ASSERT_TRUE(told.ok()) << told.status();
  EXPECT_TRUE(told->empty());
  facts::LogPoint other = mira_.point();
  other.log_hash[0] ^= 1U;
  EXPECT_EQ(ReasonOf(Open()->ReportLoss(*mira_.head(), other).status()), "LOG_OTHER");
}

TEST_F(RecoveryTest, RemembersAnEpochThatItHasForgotten) {
  const std::uint64_t before = mira_.Sync()->arrivals;
  LoseCommitsOfMira(5);
  tomas_.CommitGroups(1);
  ASSERT_TRUE(tomas_.Sync().ok());
  const auto told = Open()->ReportLoss(*mira_.head(), PlaceOfMira(before));
  ASSERT_TRUE(told.ok());
  // The server is put back once more, to where it knew nothing of it.
  server_.Stop();
  std::filesystem::remove_all(database_);
  std::filesystem::copy(server_.folder() / "saved", database_,
                        std::filesystem::copy_options::recursive);
  server_.Start();
  mira_.credentials().address = server_.server().address();
  const auto recovery = Open();
  EXPECT_TRUE(recovery->Compare({PlaceOfMira(before)}, {})->epochs.empty());
  EXPECT_EQ(recovery->Compare({PlaceOfMira(before)}, {.epochs = *told})->epochs, *told);
  // Of another server's it takes none.
  const device::SecretKey thief = device::SecretKey::Generate();
  const sync::Epochs forged = {sync::SignEpoch(thief, mira_.cooperative(), told->front())};
  EXPECT_EQ(recovery->Compare({PlaceOfMira(before)}, {.epochs = forged})->epochs, *told);
}

TEST_F(RecoveryTest, LetsCommitsArriveAgainOnceEach) {
  const std::uint64_t before = mira_.Sync()->arrivals;
  LoseCommitsOfMira(20);
  tomas_.CommitGroups(1);
  ASSERT_TRUE(tomas_.Sync().ok());
  const auto recovery = Open();
  const auto first = recovery->DeliverAgain(PartOfMira(before), std::nullopt);
  ASSERT_TRUE(first.ok()) << first.status();
  EXPECT_EQ(first->arrived, 20U);
  EXPECT_EQ(first->known + first->refused, 0U);
  const auto second = recovery->DeliverAgain(PartOfMira(before), std::nullopt);
  EXPECT_EQ(second->arrived + second->refused, 0U);
  EXPECT_EQ(second->known, 20U);
}

TEST_F(RecoveryTest, LetsWhatHadArrivedKeepTheTimeOfItsFirstArrival) {
  const std::uint64_t before = mira_.Sync()->arrivals;
  LoseCommitsOfMira(20);
  server_.clock().Move(2 * kDay);
  tomas_.CommitGroups(1);
  ASSERT_TRUE(tomas_.Sync().ok());
  Report(mira_, before);
  const auto made = Open()->DeliverAgain(PartOfMira(before), ProofOf(mira_, before));
  ASSERT_TRUE(made.ok()) << made.status();
  EXPECT_EQ(made->arrived, 20U);
  const std::vector<facts::ArrivalTimes> times = TimesOf(mira_);
  ASSERT_GE(times.size(), 20U);
  for (std::size_t i = 0; i < 20; ++i) {
    const facts::ArrivalTimes& again = times[times.size() - 20 + i];
    const auto first = mira_.store().ReadArrival(before + 1 + i);
    ASSERT_TRUE(again.first_time_ms.has_value());
    EXPECT_EQ(*again.first_time_ms, first->time_ms);
    EXPECT_GE(again.time_ms - *again.first_time_ms, kDay);
  }
  EXPECT_FALSE(times.front().first_time_ms.has_value());
}

TEST_F(RecoveryTest, LetsWhatIsLostTwiceKeepItsVeryFirstTime) {
  const std::uint64_t before = mira_.Sync()->arrivals;
  LoseCommitsOfMira(2);
  server_.clock().Move(2 * kDay);
  ASSERT_TRUE(tomas_.Sync().ok());
  tomas_.CommitGroups(1);
  ASSERT_TRUE(tomas_.Sync().ok());
  Report(mira_, before);
  ASSERT_TRUE(Open()->DeliverAgain(PartOfMira(before), ProofOf(mira_, before)).ok());
  ASSERT_TRUE(tomas_.Sync().ok());
  PutBack();
  server_.clock().Move(2 * kDay);
  const auto by_tomas = *sync::OpenRecovery(tomas_.credentials(), mira_.cooperative(),
                                            device::SystemClock().NowMillis());
  const sync::LogPart part{.arrivals_before = before,
                           .records = tomas_.store().ReadLog(before, 1 << 20)->records};
  Report(tomas_, before);
  const auto made = by_tomas->DeliverAgain(part, ProofOf(tomas_, before));
  ASSERT_TRUE(made.ok()) << made.status();
  EXPECT_EQ(made->arrived, 3U);
  const facts::ArrivalTimes last = TimesOf(mira_).back();
  ASSERT_TRUE(last.first_time_ms.has_value());
  EXPECT_EQ(*last.first_time_ms, mira_.store().ReadArrival(before + 2)->time_ms);
}

TEST_F(RecoveryTest, TakesNothingWhoseFirstTimeIsFalselyProved) {
  const std::uint64_t before = mira_.Sync()->arrivals;
  LoseCommitsOfMira(2);
  Report(mira_, before);
  const auto recovery = Open();
  const sync::FirstTimes good = ProofOf(mira_, before);
  const auto reason = [&](const sync::LogPart& part, const sync::FirstTimes& times) {
    return ReasonOf(recovery->DeliverAgain(part, times).status());
  };
  sync::LogPart earlier{.arrivals_before = before, .records = {}};
  const sync::LogPart honest = PartOfMira(before);
  facts::ArrivalReader reader(honest.records);
  while (!reader.at_end()) {
    facts::ArrivalView view = *reader.Next();
    view.time_ms -= kDay;
    facts::AppendArrival(earlier.records, view);
  }
  EXPECT_EQ(reason(earlier, good), "PROOF_WRONG");
  sync::FirstTimes spoiled = good;
  spoiled.tree_before.clear();
  EXPECT_EQ(reason(honest, spoiled), "PROOF_WRONG");
  spoiled = good;
  spoiled.proof.resize(50);
  EXPECT_EQ(reason(honest, spoiled), "PROOF_WRONG");
  spoiled = good;
  ++spoiled.head.point.arrivals;
  EXPECT_EQ(reason(honest, spoiled), "HEAD_SIGNATURE_BAD");
  const auto arrived = recovery->DeliverAgain(honest, std::nullopt);
  ASSERT_TRUE(arrived.ok()) << arrived.status();
  EXPECT_EQ(arrived->arrived, 2U) << "nothing of it had arrived by then";
  EXPECT_FALSE(TimesOf(mira_).back().first_time_ms.has_value()) << "without a proof it is new";
}

TEST_F(RecoveryTest, BelievesFirstTimesOfLogsThatAreKnownToBeLostAlone) {
  const std::uint64_t before = mira_.Sync()->arrivals;
  LoseCommitsOfMira(2);
  server_.clock().Move(2 * kDay);
  const sync::FirstTimes times = ProofOf(mira_, before);
  EXPECT_EQ(ReasonOf(Open()->DeliverAgain(PartOfMira(before), times).status()), "LOSS_UNTOLD");
  Report(mira_, before);
  // Of this server it is; a key may be made up.
  const device::SecretKey other = device::SecretKey::Generate();
  sync::FirstTimes foreign = times;
  foreign.head = sync::SignHead(other, mira_.cooperative(), times.head);
  const auto by_tomas = *sync::OpenRecovery(tomas_.credentials(), mira_.cooperative(),
                                            device::SystemClock().NowMillis());
  EXPECT_EQ(ReasonOf(by_tomas->DeliverAgain(PartOfMira(before), foreign).status()), "HEAD_OTHER");
  const auto made = by_tomas->DeliverAgain(PartOfMira(before), times);
  ASSERT_TRUE(made.ok()) << made.status();
  EXPECT_EQ(made->arrived, 2U);
}

TEST_F(RecoveryTest, SaysWhichCommitsItDoesNotTake) {
  const std::uint64_t before = mira_.Sync()->arrivals;
  LoseCommitsOfMira(2);
  const device::SecretKey stranger = device::SecretKey::Generate();
  const std::string bytes = facts::BuildCommit(
      {.cooperative = mira_.cooperative(), .device = DeviceOf(stranger.public_key()), .seq = 1},
      {facts::GroupEntry{.group = GroupId{{1}}, .name = "x", .taxon = "y"}});
  sync::LogPart part = PartOfMira(before);
  facts::AppendArrival(
      part.records,
      {.commit = bytes, .time_ms = 1, .signature = facts::SignCommit(stranger, Sha256(bytes))});
  const auto made = Open()->DeliverAgain(part, std::nullopt);
  ASSERT_TRUE(made.ok()) << made.status();
  EXPECT_EQ(made->arrived, 2U);
  EXPECT_EQ(made->refused, 1U);
  EXPECT_EQ(made->refused_at, std::vector<std::uint32_t>{2});
}

TEST_F(RecoveryTest, GivesAJoiningNoPlaceBeforeItsInvitation) {
  ASSERT_TRUE(mira_.Sync().ok());
  Member iva("iva");
  const facts::SignedCommit joining =
      iva.JoiningCommit(mira_.Invite(server_.server().address(), Authority()));
  sync::LogPart part;
  facts::AppendArrival(part.records,
                       {.commit = joining.bytes, .time_ms = 1, .signature = joining.signature});
  const auto early = Open()->DeliverAgain(part, std::nullopt);
  ASSERT_TRUE(early.ok()) << early.status();
  EXPECT_EQ(early->refused, 1U);
  ASSERT_TRUE(mira_.Sync().ok());
  const auto later = Open()->DeliverAgain(part, std::nullopt);
  ASSERT_TRUE(later.ok()) << later.status();
  EXPECT_EQ(later->arrived, 1U);
  EXPECT_EQ(Open()->DeliverAgain(part, std::nullopt)->known, 1U);
}

TEST_F(RecoveryTest, TakesNoRunWithoutItsSignature) {
  ASSERT_TRUE(mira_.Sync().ok());
  sync::LogPart part;
  facts::AppendArrival(part.records, {.commit = mira_.Commit({}).bytes, .time_ms = 1});
  EXPECT_FALSE(Open()->DeliverAgain(part, std::nullopt).ok());
  EXPECT_EQ(
      ReasonOf(
          Open()->DeliverAgain({.arrivals_before = 0, .records = "\x05zz"}, std::nullopt).status()),
      "RECORD_FORM");
}

TEST_F(RecoveryTest, ComparesAscendingPlacesInBounds) {
  ASSERT_TRUE(mira_.Sync().ok());
  const auto recovery = Open();
  EXPECT_EQ(ReasonOf(recovery->Compare({}, {}).status()), "PLACES_FORM");
  EXPECT_EQ(ReasonOf(recovery->Compare({PlaceOfMira(2), PlaceOfMira(1)}, {}).status()),
            "PLACES_FORM");
  const std::vector<facts::LogPoint> many(sync::kComparePlacesMax + 1, PlaceOfMira(1));
  EXPECT_EQ(ReasonOf(recovery->Compare(many, {}).status()), "PLACES_FORM");
}

TEST_F(RecoveryTest, AnswersWhomItHasGivenACertificateAlone) {
  ASSERT_TRUE(mira_.Sync().ok());
  const facts::LogPoint place = mira_.point();
  sync::Credentials nobody = mira_.credentials();
  nobody.certificate_pem.clear();
  nobody.key_pem.clear();
  const auto recovery =
      *sync::OpenRecovery(nobody, mira_.cooperative(), device::SystemClock().NowMillis());
  EXPECT_EQ(ReasonOf(recovery->Compare({place}, {}).status()), "NO_CERTIFICATE");
}

}  // namespace
}  // namespace broodpact::server
