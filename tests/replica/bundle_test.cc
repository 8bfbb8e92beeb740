// Goal: two keepers who meet without a network know what the other knows: the log as final, the
// rest as provisional, on both alike, and whoever comes home first delivers it for its author.
// Method: a cooperative in temporary folders; heads signed by a key of the test in a server's
// stead.

#include "client/replica/bundle.h"

#include <algorithm>
#include <memory>
#include <sstream>

#include <gmock/gmock.h>

#include "client/base/status.h"
#include "client/device/key.h"
#include "client/replica/internal/bundle_intake.h"
#include "client/replica/internal/bundle_survey.h"
#include "client/replica/internal/known_log.h"
#include "client/replica/internal/rep.h"
#include "tests/replica/testing/bundles.h"
#include "tests/replica/testing/demand.h"
#include "tests/replica/testing/society.h"

namespace broodpact::replica {
namespace {

using testing::AddAnimal;
using testing::AddGroup;
using testing::ArrivalsOf;
using testing::BundleWith;
using testing::Demand;
using testing::ExchangedFile;
using testing::FrontierOf;
using ::testing::SizeIs;
using testing::Society;

class Bundles : public ::testing::Test {
 protected:
  Bundles() {
    society_.Found("mira");
    society_.Enter("tomas");
    society_.Enter("iva");
    group_ = AddGroup(society_, "mira", "hamorii-colima");
    Deliver();
  }

  // All deliver and fetch, and have a head for it.
  void Deliver() {
    society_.Deliver();
    for (const char* keeper : {"mira", "tomas", "iva"}) SignHead(keeper);
  }

  void Sync(const std::string& keeper) {
    society_.Push(keeper);
    society_.Pull(keeper);
    SignHead(keeper);
  }

  // Gives a replica the head that an honest server signs for its log.
  void SignHead(const std::string& keeper) {
    const Hash cooperative = society_.At(keeper).cooperative();
    society_.Close(keeper);
    const auto database =
        store::Store::Open(society_.HomeOf(keeper).database(), store::Access::kReadWrite);
    ASSERT_TRUE(database.ok()) << database.status();
    const facts::LogPoint point = (*database)->point();
    const sync::Head head = sync::SignHead(
        log_key_, cooperative,
        {.epoch = 1, .point = point, .tree_root = *(*database)->TreeRootAt(point.arrivals)});
    ASSERT_TRUE((*database)->PutMeta(kMetaHead, sync::EncodeHead(head)).ok());
  }

  std::string Write(const std::string& keeper,
                    const std::optional<sync::BundleFrontier>& since = {}) {
    std::ostringstream out;
    const auto report = society_.At(keeper).WriteBundle(out, since);
    EXPECT_TRUE(report.ok()) << report.status();
    return out.str();
  }

  absl::StatusOr<BundleReport> TryRead(const std::string& keeper, const std::string& bundle) {
    std::istringstream in(bundle);
    return society_.At(keeper).ReadBundle(in);
  }

  BundleReport Read(const std::string& keeper, const std::string& bundle) {
    const auto report = TryRead(keeper, bundle);
    EXPECT_TRUE(report.ok()) << report.status();
    return report.ok() ? *report : BundleReport{};
  }

  // Tomas has all but the newest arrival, mira's dora.
  void LeaveTomasOneBehind() {
    Enter("mira", "rosa");
    Sync("mira");
    Sync("tomas");
    Enter("mira", "dora");
    Sync("mira");
  }

  // Closes the replica of a keeper before.
  std::unique_ptr<store::Store> OpenStore(const std::string& keeper) {
    society_.Close(keeper);
    return Demand(
        store::Store::Open(society_.HomeOf(keeper).database(), store::Access::kReadWrite));
  }

  AnimalId Enter(const std::string& keeper, const std::string& name) {
    return AddAnimal(society_, keeper, {.group = group_, .name = name});
  }

  v1::Standing StandingOf(const std::string& keeper, const AnimalId& animal) {
    const auto found = society_.ViewOf(keeper).Animal(animal);
    return found.ok() ? found->standing() : v1::STANDING_UNSPECIFIED;
  }

  Society society_;
  const device::SecretKey log_key_ = device::SecretKey::OfSeed(std::string(32, 'l'));
  GroupId group_;
};

TEST_F(Bundles, CarryWhatIsNotDeliveredAsProvisional) {
  const AnimalId rosa = Enter("mira", "rosa");
  const BundleReport report = Read("tomas", Write("mira"));
  EXPECT_EQ(report.mail_taken, 1U);
  EXPECT_EQ(society_.At("tomas").carried(), 1U);
  EXPECT_EQ(StandingOf("tomas", rosa), v1::STANDING_PROVISIONAL);
  society_.Close("tomas");
  EXPECT_EQ(StandingOf("tomas", rosa), v1::STANDING_PROVISIONAL);
  EXPECT_THAT(society_.At("tomas").Verify()->faults, ::testing::IsEmpty());
}

TEST_F(Bundles, AreDeliveredByWhoeverIsOnlineFirst) {
  const AnimalId rosa = Enter("mira", "rosa");
  Read("tomas", Write("mira"));
  Sync("tomas");
  EXPECT_EQ(society_.At("tomas").carried(), 0U);
  Sync("mira");
  EXPECT_TRUE(society_.At("mira").undelivered().empty());
  Sync("iva");
  for (const char* keeper : {"mira", "tomas", "iva"}) {
    EXPECT_EQ(StandingOf(keeper, rosa), v1::STANDING_FINAL) << keeper;
  }
}

TEST_F(Bundles, PassOnWhatIsCarried) {
  const AnimalId rosa = Enter("mira", "rosa");
  Read("tomas", Write("mira"));
  const BundleReport report = Read("iva", Write("tomas"));
  EXPECT_EQ(report.mail_taken, 1U);
  EXPECT_EQ(StandingOf("iva", rosa), v1::STANDING_PROVISIONAL);
}

TEST_F(Bundles, ChangeNothingWhenTheyAreReadAgainOrInAnyOrder) {
  Enter("mira", "rosa");
  const std::string first = Write("mira");
  Enter("mira", "dora");
  const std::string second = Write("mira");
  std::istringstream in(first);
  const std::string later = Write("mira", *FrontierIn(in));
  EXPECT_LT(later.size(), second.size());

  const BundleReport early = Read("tomas", later);
  EXPECT_EQ(early.mail_early, 1U) << "what comes before is missing";
  EXPECT_EQ(Read("tomas", first).mail_taken, 1U);
  EXPECT_EQ(Read("tomas", later).mail_taken, 1U);
  EXPECT_EQ(Read("tomas", second).mail_known, 2U);
  EXPECT_EQ(Read("tomas", first).mail_known, 1U);
  EXPECT_EQ(society_.At("tomas").carried(), 2U);
}

TEST_F(Bundles, BringTheSameStateWhoeverCarriesIt) {
  Enter("mira", "rosa");
  Enter("tomas", "dora");
  Enter("mira", "dora");
  society_.clock().Advance(-86'400'000);
  Enter("iva", "ema");
  const std::string mira = Write("mira");
  const std::string tomas = Write("tomas");
  const std::string iva = Write("iva");
  Read("mira", tomas), Read("mira", iva);
  Read("tomas", iva), Read("tomas", mira);
  Read("iva", mira), Read("iva", tomas);
  const auto order = [&](const std::string& keeper) {
    std::vector<Hash> hashes;
    for (const auto& one : society_.At(keeper).undelivered()) hashes.push_back(one.commit.hash);
    return hashes;
  };
  EXPECT_EQ(order("mira").size(), 4U);
  EXPECT_EQ(order("mira"), order("tomas"));
  EXPECT_EQ(order("mira"), order("iva"));
  const auto animals = [&](const std::string& keeper) {
    return society_.ViewOf(keeper).Animals({})->SerializeAsString();
  };
  EXPECT_EQ(animals("mira"), animals("tomas"));
  EXPECT_EQ(animals("mira"), animals("iva"));
}

TEST_F(Bundles, BringTheLogThatTheServerSigned) {
  const AnimalId rosa = Enter("mira", "rosa");
  Sync("mira");
  const std::string bundle = Write("mira");
  const BundleReport report = Read("tomas", bundle);
  EXPECT_EQ(report.arrivals_taken, 1U);
  EXPECT_EQ(StandingOf("tomas", rosa), v1::STANDING_FINAL);
  EXPECT_EQ(society_.At("tomas").store().point(), society_.At("mira").store().point());
  EXPECT_EQ(**society_.At("tomas").LastHead(), **society_.At("mira").LastHead());
  EXPECT_EQ(Read("tomas", bundle).arrivals_taken, 0U);
  // Only what the other one lacks.
  std::istringstream in(Write("iva"));
  std::istringstream lacking(Write("mira", *FrontierIn(in)));
  const auto survey = SurveyBundle(lacking);
  ASSERT_TRUE(survey.ok()) << survey.status();
  EXPECT_EQ(survey->arrivals_first, survey->arrivals_last);
  EXPECT_EQ(Read("iva", lacking.str()).arrivals_taken, 1U);
}

TEST_F(Bundles, WithALogThatNoKnownServerSignedBringNoneOfIt) {
  Enter("mira", "rosa");
  Sync("mira");
  const device::SecretKey stranger = device::SecretKey::OfSeed(std::string(32, 's'));
  std::istringstream in(Write("mira"));
  std::ostringstream out;
  sync::BundleReader reader(in);
  std::optional<sync::BundleWriter> writer;
  while (true) {
    const auto block = reader.Next();
    ASSERT_TRUE(block.ok());
    if (!*block) break;
    if ((*block)->header) writer.emplace(out, *(*block)->header);
    if ((*block)->log) writer->Add(*(*block)->log);
    if ((*block)->head) {
      writer->Add(sync::SignHead(stranger, society_.At("mira").cooperative(), *(*block)->head));
    }
  }
  writer->Finish();
  const std::uint64_t before = society_.At("tomas").store().point().arrivals;
  const BundleReport report = Read("tomas", out.str());
  EXPECT_EQ(report.arrivals_taken, 0U);
  EXPECT_EQ(report.passed_over, PassedOver::kOtherServer);
  EXPECT_EQ(society_.At("tomas").store().point().arrivals, before);
}

TEST_F(Bundles, WithALogThatBeginsLaterSayThatSomethingIsMissing) {
  Enter("mira", "rosa");
  Sync("mira");
  Sync("tomas");
  std::istringstream in(Write("tomas"));
  Enter("mira", "dora");
  Sync("mira");
  const std::string later = Write("mira", *FrontierIn(in));
  const BundleReport report = Read("iva", later);
  EXPECT_EQ(report.arrivals_taken, 0U);
  EXPECT_EQ(report.passed_over, PassedOver::kBeginsLater);
  EXPECT_EQ(Read("tomas", later).passed_over, PassedOver::kNothing);
}

TEST_F(Bundles, CompareHeadsAndConvictAServerOfTwoHistories) {
  // The server tells tomas another log of as many arrivals than mira.
  sync::Head other = **society_.At("mira").LastHead();
  other.point.log_hash = Sha256("another history");
  const sync::Head forged = sync::SignHead(log_key_, society_.At("mira").cooperative(), other);
  std::ostringstream out;
  sync::BundleWriter writer(out, {.cooperative = society_.At("mira").cooperative()});
  writer.Add(forged);
  writer.Finish();
  const absl::Status status = TryRead("tomas", out.str()).status();
  EXPECT_EQ(status.code(), absl::StatusCode::kDataLoss);
  EXPECT_EQ(ReasonOf(status), "LOG_FORKED");
  const auto doubts = society_.At("tomas").Doubts();
  ASSERT_TRUE(doubts.ok());
  ASSERT_EQ(doubts->size(), 1U);
  EXPECT_EQ(doubts->front().theirs, forged);
  EXPECT_EQ(doubts->front().ours, **society_.At("tomas").LastHead());
}

// A bundle whose log has the same commits as mira's, the one before the last at another time, and
// so is another history from there on.
std::string OtherHistory(Replica& mira, const device::SecretKey& log_key, std::uint32_t epoch) {
  std::string records;
  sync::Head head{{.epoch = epoch, .point = {.arrivals = 0, .log_hash = mira.cooperative()}}};
  const std::uint64_t last = mira.store().point().arrivals;
  EXPECT_TRUE(mira.store()
                  .VisitArrivals(1, last,
                                 [&](std::uint64_t arrival, const store::StoredArrival& stored) {
                                   const std::int64_t time_ms =
                                       stored.time_ms + (arrival == last - 1 ? 1 : 0);
                                   head.point.log_hash =
                                       facts::NextLogHash(head.point.log_hash, Sha256(stored.bytes),
                                                          {.time_ms = time_ms});
                                   facts::AppendArrival(records, {.commit = stored.bytes,
                                                                  .time_ms = time_ms,
                                                                  .signature = stored.signature});
                                   return absl::OkStatus();
                                 })
                  .ok());
  head.point.arrivals = last;
  std::ostringstream out;
  sync::BundleWriter writer(out, {.cooperative = mira.cooperative()});
  writer.Add(sync::SignHead(log_key, mira.cooperative(), head));
  writer.Add(sync::BundleLog{.arrivals_before = 0, .records = records});
  writer.Finish();
  return out.str();
}

TEST_F(Bundles, TakeNothingOfALogThatPartsFromTheirReadersBeforeItsEnd) {
  LeaveTomasOneBehind();
  const facts::LogPoint here = society_.At("tomas").store().point();
  Replica& mira = society_.At("mira");
  EXPECT_EQ(ReasonOf(TryRead("tomas", OtherHistory(mira, log_key_, 1)).status()), "LOG_FORKED");
  EXPECT_EQ(society_.At("tomas").store().point(), here);
  EXPECT_EQ(society_.At("tomas").carried(), 1U);  // dora: perhaps nobody else has her
}

// The first block leads past the second, which is of another log, to the third; without that rule
// the second follows on the log of the reader as well.
TEST_F(Bundles, BringTheLogThatTheirHeadVouchesForWhateverElseIsInThem) {
  LeaveTomasOneBehind();
  Replica& mira = society_.At("mira");
  const std::uint64_t here = society_.At("tomas").store().point().arrivals;
  sync::BundleLog other = ArrivalsOf(mira, here, here);
  other.records += ArrivalsOf(mira, here + 1, here + 1, 1).records;
  const std::string bundle =
      BundleWith(mira, {ArrivalsOf(mira, here, here), other, ArrivalsOf(mira, here + 1, here + 1)});
  EXPECT_EQ(Read("tomas", bundle).arrivals_taken, 1U);
  EXPECT_EQ(society_.At("tomas").store().point(), mira.store().point());
}

TEST_F(Bundles, ThatAreExchangedBetweenTheirReadingsBringNothingOfTheirLog) {
  LeaveTomasOneBehind();
  Replica& mira = society_.At("mira");
  Replica& tomas = society_.At("tomas");
  const facts::LogPoint here = tomas.store().point();
  ExchangedFile file(BundleWith(mira, {ArrivalsOf(mira, here.arrivals + 1, here.arrivals + 1)}),
                     BundleWith(mira, {ArrivalsOf(mira, here.arrivals + 1, here.arrivals + 1, 1)}));
  std::istream in(&file);
  EXPECT_EQ(ReasonOf(tomas.ReadBundle(in).status()), "BUNDLE_DAMAGED");
  EXPECT_EQ(tomas.store().point(), here);
}

TEST_F(Bundles, AreTakenInStagesUpToTheFirstThatIsNotWhatWasReadBefore) {
  LeaveTomasOneBehind();
  Enter("mira", "ema");
  Sync("mira");
  Replica& mira = society_.At("mira");
  const Hash cooperative = mira.cooperative();
  const std::optional<sync::Head> known = Demand(society_.At("tomas").LastHead());
  const std::unique_ptr<store::Store> database = OpenStore("tomas");
  const std::uint64_t next = database->point().arrivals + 1;
  BundleSurvey survey(*database, cooperative, known, 1);
  ASSERT_TRUE(survey.Add({.head = Demand(mira.LastHead())}).ok());
  for (const std::uint64_t arrival : {next, next + 1}) {
    ASSERT_TRUE(survey.Add({.log = ArrivalsOf(mira, arrival, arrival)}).ok());
  }
  ASSERT_THAT(survey.stages(), SizeIs(2));
  Ledger ledger(*database);
  BundleLogIntake intake(ledger, {}, survey.stages());
  EXPECT_TRUE(intake.Add(ArrivalsOf(mira, next, next)).ok());
  EXPECT_EQ(ReasonOf(intake.Add(ArrivalsOf(mira, next + 1, next + 1, 1))), "BUNDLE_DAMAGED");
  EXPECT_EQ(ReasonOf(intake.Finish()), "BUNDLE_DAMAGED");
  EXPECT_EQ(database->point(), survey.stages().front());
}

TEST_F(Bundles, OfWhichAPartWasTakenLeaveTheirHeadAsAPromise) {
  LeaveTomasOneBehind();
  const std::optional<sync::Head> last = Demand(society_.At("tomas").LastHead());
  const std::optional<sync::Head> head = Demand(society_.At("mira").LastHead());
  const std::unique_ptr<store::Store> database = OpenStore("tomas");
  ASSERT_TRUE(KeepVouching(*database, *head).ok());
  const KnownLog known = Demand(ReadKnownLog(*database));
  EXPECT_EQ(known.head, last) << "the log has not come to the other one";
  EXPECT_EQ(known.promised(), head);
}

TEST_F(Bundles, WithALogAfterALossDoNotConvictTheServerThatTellsIt) {
  LeaveTomasOneBehind();
  const facts::LogPoint here = society_.At("tomas").store().point();
  const BundleReport report = Read("tomas", OtherHistory(society_.At("mira"), log_key_, 2));
  EXPECT_EQ(report.passed_over, PassedOver::kAfterLoss);
  EXPECT_EQ(report.arrivals_taken, 0U);
  EXPECT_EQ(report.mail_taken, 1U);
  EXPECT_EQ(society_.At("tomas").store().point(), here);
  EXPECT_TRUE(society_.At("tomas").Doubts()->empty());
}

TEST_F(Bundles, OfALogThatWasLostGiveWhatIsMissingHere) {
  LeaveTomasOneBehind();
  const std::string lost = OtherHistory(society_.At("mira"), log_key_, 1);
  const facts::LogPoint here = society_.At("tomas").store().point();
  const sync::Epoch epoch = sync::SignEpoch(
      log_key_, society_.At("mira").cooperative(),
      {.epoch = 2,
       .common = {.arrivals = here.arrivals - 1,
                  .log_hash = *society_.At("tomas").store().LogHashAt(here.arrivals - 1)},
       .lost_arrivals = here.arrivals + 1});
  society_.Close("tomas");
  {
    const auto database =
        store::Store::Open(society_.HomeOf("tomas").database(), store::Access::kReadWrite);
    ASSERT_TRUE(database.ok() && KeepEpochs(**database, {epoch}).ok());
  }
  const BundleReport report = Read("tomas", lost);
  EXPECT_EQ(report.passed_over, PassedOver::kLost);
  EXPECT_EQ(report.mail_taken, 1U);
  EXPECT_EQ(Read("tomas", lost).mail_taken, 0U);
}

TEST_F(Bundles, TellOfTheLossesThatTheServerTold) {
  const Hash cooperative = society_.At("mira").cooperative();
  const auto epoch_by = [&](const Signer& key) {
    return sync::SignEpoch(key, cooperative, {.epoch = 2, .lost_arrivals = 90});
  };
  sync::Epoch forged = epoch_by(log_key_);
  ++forged.lost_arrivals;
  const sync::Epochs told = {epoch_by(log_key_)};
  const auto known_to = [&](const std::string& keeper) {
    return ReadKnownLog(society_.At(keeper).store())->epochs;
  };
  std::ostringstream hostile;
  sync::BundleWriter writer(hostile, {.cooperative = cooperative});
  writer.Add(sync::Epochs{forged, epoch_by(device::SecretKey::Generate())});
  writer.Finish();
  Read("mira", hostile.str());
  EXPECT_TRUE(known_to("mira").empty());

  std::ostringstream honest;
  sync::BundleWriter honest_writer(honest, {.cooperative = cooperative});
  honest_writer.Add(told);
  honest_writer.Finish();
  Read("mira", honest.str());
  EXPECT_EQ(known_to("mira"), told);
  Read("tomas", Write("mira"));
  EXPECT_EQ(known_to("tomas"), told);
}

TEST_F(Bundles, TakeNothingFromStrangersOrOfAnotherCooperative) {
  Society others;
  others.Found("vera");
  AddGroup(others, "vera", "smithi");
  std::ostringstream out;
  ASSERT_TRUE(others.At("vera").WriteBundle(out, {}).ok());
  EXPECT_EQ(ReasonOf(TryRead("mira", out.str()).status()), "COOPERATIVE_OTHER");

  const device::SecretKey stranger = device::SecretKey::OfSeed(std::string(32, 's'));
  const Hash cooperative = society_.At("mira").cooperative();
  const std::string bytes =
      facts::BuildCommit({.cooperative = cooperative, .device = DeviceOf(stranger.public_key())},
                         {facts::GroupEntry{.group = group_, .name = "x", .taxon = "y"}});
  facts::SignedCommit mine = society_.At("tomas").undelivered().empty()
                                 ? facts::SignedCommit{}
                                 : society_.At("tomas").undelivered().front().signed_commit;
  std::ostringstream forged;
  sync::BundleWriter writer(forged, {.cooperative = cooperative});
  mine.bytes = "garbage";
  writer.Add(std::vector<facts::SignedCommit>{
      {.bytes = bytes, .signature = facts::SignCommit(stranger, Sha256(bytes))}, mine});
  writer.Finish();
  const BundleReport report = Read("mira", forged.str());
  EXPECT_EQ(report.mail_refused, 2U);
  EXPECT_EQ(society_.At("mira").carried(), 0U);
}

TEST_F(Bundles, ThatAreCutShortGiveWhatIsWhole) {
  Enter("mira", "rosa");
  const std::string bundle = Write("mira");
  const absl::Status status = TryRead("tomas", bundle.substr(0, bundle.size() - 5)).status();
  EXPECT_EQ(ReasonOf(status), "BUNDLE_CUT");
  EXPECT_EQ(society_.At("tomas").carried(), 1U);
}

TEST_F(Bundles, GiveBackOwnWorkThatADiskLost) {
  society_.Close("mira");
  std::filesystem::copy(society_.HomeOf("mira").folder(), society_.folder() / "backup",
                        std::filesystem::copy_options::recursive);
  const AnimalId rosa = Enter("mira", "rosa");
  Read("tomas", Write("mira"));
  society_.Close("mira");
  std::filesystem::remove_all(society_.HomeOf("mira").folder());
  std::filesystem::rename(society_.folder() / "backup", society_.HomeOf("mira").folder());
  ASSERT_EQ(StandingOf("mira", rosa), v1::STANDING_UNSPECIFIED);
  EXPECT_EQ(Read("mira", Write("tomas")).mail_taken, 1U);
  EXPECT_EQ(StandingOf("mira", rosa), v1::STANDING_PROVISIONAL);
  const AnimalId dora = Enter("mira", "dora");
  Deliver();
  EXPECT_EQ(StandingOf("iva", rosa), v1::STANDING_FINAL);
  EXPECT_EQ(StandingOf("iva", dora), v1::STANDING_FINAL);
}

// Server and author restored at once: the author gives the places anew, and only tomas has what was
// there. Of a run as the log has it the last commit alone is signed.
TEST_F(Bundles, BringTheirAuthorWhatALossLeftWithoutAPlace) {
  society_.Close("mira");
  std::filesystem::copy(society_.HomeOf("mira").folder(), society_.folder() / "backup",
                        std::filesystem::copy_options::recursive);
  const AnimalId rosa = Enter("mira", "rosa");
  const AnimalId dora = Enter("mira", "dora");
  std::vector<facts::SignedCommit> run;
  for (const auto& one : society_.At("mira").undelivered()) run.push_back(one.signed_commit);
  ASSERT_EQ(run.size(), 2U);
  run.front().signature = {};
  std::ostringstream out;
  sync::BundleWriter writer(out, {.cooperative = society_.At("mira").cooperative()});
  writer.Add(run);
  writer.Finish();
  EXPECT_EQ(Read("tomas", out.str()).mail_taken, 2U);
  society_.Close("mira");
  std::filesystem::remove_all(society_.HomeOf("mira").folder());
  std::filesystem::rename(society_.folder() / "backup", society_.HomeOf("mira").folder());
  const AnimalId ema = Enter("mira", "ema");
  Sync("mira");
  Sync("tomas");
  EXPECT_EQ(society_.At("tomas").carried(), 0U);
  EXPECT_EQ(society_.At("tomas").aside(), 2U);

  const std::string bundle = Write("tomas");
  EXPECT_EQ(Read("mira", bundle).mail_restated, 2U);
  EXPECT_EQ(Read("mira", bundle).mail_restated, 0U) << "once is enough";
  Sync("mira");
  Sync("tomas");
  for (const AnimalId& animal : {rosa, dora, ema}) {
    EXPECT_EQ(StandingOf("tomas", animal), v1::STANDING_FINAL);
  }
  EXPECT_EQ(society_.At("tomas").aside(), 0U);
  EXPECT_EQ(Read("mira", bundle).mail_known, 2U);
  EXPECT_THAT(society_.At("mira").Verify()->faults, ::testing::IsEmpty());
}

TEST_F(Bundles, TakeNoCommitWithoutASignatureThatNothingVouchesFor) {
  Enter("mira", "rosa");
  facts::SignedCommit bare = society_.At("mira").undelivered().front().signed_commit;
  bare.signature = {};
  std::ostringstream out;
  sync::BundleWriter writer(out, {.cooperative = society_.At("mira").cooperative()});
  writer.Add(std::vector<facts::SignedCommit>{bare});
  writer.Finish();
  EXPECT_EQ(Read("tomas", out.str()).mail_refused, 1U);
}

TEST_F(Bundles, LeaveTheOtherBranchOfAForkToItsAuthor) {
  society_.Close("mira");
  std::filesystem::copy(society_.HomeOf("mira").folder(), society_.HomeOf("copy").folder(),
                        std::filesystem::copy_options::recursive);
  const AnimalId rosa = Enter("mira", "rosa");
  const AnimalId dora = Enter("copy", "dora");
  Read("tomas", Write("copy"));
  EXPECT_EQ(StandingOf("tomas", dora), v1::STANDING_PROVISIONAL);
  Sync("mira");
  Sync("tomas");
  EXPECT_EQ(society_.At("tomas").carried(), 0U) << "it cannot arrive there any more";
  EXPECT_EQ(Read("tomas", Write("copy")).mail_forked, 1U);
  Sync("copy");
  Sync("copy");
  Sync("tomas");
  EXPECT_EQ(StandingOf("tomas", rosa), v1::STANDING_FINAL);
  EXPECT_EQ(StandingOf("tomas", dora), v1::STANDING_FINAL);
}

// Of a bundle that tells of so many chains, as somebody reads it who takes so many.
sync::BundleFrontier ReadFrontier(const sync::BundleFrontier& told, std::size_t chains_max) {
  std::ostringstream out;
  sync::BundleWriter writer(out, {});
  writer.Add(told);
  writer.Finish();
  std::istringstream in(out.str());
  return Demand(FrontierIn(in, chains_max));
}

TEST(BundleFrontiers, OfMoreChainsThanABlockHoldsAreReadWhole) {
  const sync::BundleFrontier told = FrontierOf(90'000);
  EXPECT_TRUE(ReadFrontier(told, kFrontierChainsMax) == told);
}

TEST(BundleFrontiers, AreReadUpToABound) {
  sync::BundleFrontier told = FrontierOf(90'000);
  for (const std::size_t chains_max : {89'999U, 10U}) {
    told.chains.resize(std::min(chains_max, told.chains.size()));
    EXPECT_TRUE(ReadFrontier(FrontierOf(90'000), chains_max) == told) << chains_max;
  }
}

}  // namespace
}  // namespace broodpact::replica
