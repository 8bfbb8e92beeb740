// Goal: a newcomer starts from the server's snapshot by the word of three keepers, acts at once,
// and has and has checked the whole log after the next sync. Method: real processes, and a server
// with a short interval.

#include <filesystem>

#include <gtest/gtest.h>

#include "tests/e2e/two_keepers.h"

namespace broodpact::e2e {
namespace {

class SnapshotE2e : public TwoKeepers {
 protected:
  SnapshotE2e() { server_.SetOptions({"--snapshot-every", "30"}); }

  void SetUp() override {
    TwoKeepers::SetUp();
    iva_.Do({"join", "-"}, Invitation());
    Save();
    // The snapshot is of a place that all three come past.
    for (int i = 0; i < 40; ++i) AddAnimal(tomas_, i);
    tomas_.Do({"sync"});
    ASSERT_TRUE(Eventually([&] { return Snapshots() == 1; }));
    for (Keeper* keeper : {&tomas_, &mira_, &iva_}) keeper->Do({"sync"});
  }

  void ExpectOneLogWith(Keeper& other) {
    other.Do({"sync"});
    EXPECT_TRUE(bela_.Ask({"verify"})["faults"].empty());
    EXPECT_EQ(bela_.Ask({"status"})["log_hash"], other.Ask({"status"})["log_hash"]);
    EXPECT_TRUE(bela_.Ask({"heads"})["doubts"].empty());
  }

  static void AddAnimal(Keeper& keeper, int number) {
    keeper.Do(
        {"animal", "add", keeper.name() + std::to_string(number), "--group", "hamorii-colima"});
  }

  int Snapshots() const {
    int count = 0;
    std::error_code ignored;
    for (const auto& entry :
         std::filesystem::directory_iterator(server_.data() / "snapshots", ignored)) {
      if (entry.path().filename() != "new") ++count;
    }
    return count;
  }

  Keeper iva_{folder_.path(), "iva"};
  Keeper bela_{folder_.path(), "bela"};
};

TEST_F(SnapshotE2e, LetsANewcomerStartAtOnceAndVerifyLater) {
  const std::string code = Invitation();
  const Outcome joined = bela_.Try({"join", "-"}, code);
  ASSERT_EQ(joined.code, 0) << joined.err;
  EXPECT_NE(joined.err.find("started from the server's snapshot"), std::string::npos) << joined.err;
  const nlohmann::json started = bela_.Ask({"status"});
  ASSERT_TRUE(started.contains("snapshot")) << started;
  EXPECT_EQ(started["snapshot"]["attested_by"].size(), 3U);
  EXPECT_EQ(bela_.Try({"verify"}).code, 5);  // HISTORY_MISSING
  AddAnimal(bela_, 1);

  const Outcome synced = bela_.Try({"sync"});
  ASSERT_EQ(synced.code, 0) << synced.err;
  EXPECT_NE(synced.err.find("The history is checked"), std::string::npos) << synced.err;
  EXPECT_FALSE(bela_.Ask({"status"}).contains("snapshot"));
  tomas_.Do({"sync"});
  const nlohmann::json bela = bela_.Ask({"verify"});
  EXPECT_TRUE(bela["faults"].empty()) << bela;
  EXPECT_EQ(bela["state_digest"], tomas_.Ask({"verify"})["state_digest"]);
  EXPECT_EQ(bela_.Ask({"status"}).value("incarnation", 0), 1);
}

TEST_F(SnapshotE2e, IsLeftAsideWhereTheWholeLogIsAskedFor) {
  const std::string code = Invitation();
  bela_.Do({"join", "--whole", "-"}, code);
  EXPECT_FALSE(bela_.Ask({"status"}).contains("snapshot"));
  EXPECT_TRUE(bela_.Ask({"verify"})["faults"].empty());
}

TEST_F(SnapshotE2e, ShowsWhatIsThereOfTheLogAndSaysThatMoreIsMissing) {
  bela_.Do({"join", "-"}, Invitation());
  const Outcome log = bela_.Try({"log", "--limit", "1000"});
  EXPECT_EQ(log.code, 0);
  EXPECT_NE(log.err.find("`broodpact sync`"), std::string::npos) << log.err;
}

TEST_F(SnapshotE2e, WaitsForAMemberWithTheWholeLogWhereTheServerHasLostIt) {
  bela_.Do({"join", "-"}, Invitation());
  tomas_.Do({"sync"});
  PutBack();  // as it was before there was a snapshot
  AddAnimal(bela_, 1);
  const Outcome behind = bela_.Try({"sync"});
  EXPECT_EQ(behind.code, 6) << behind.err;
  tomas_.Do({"sync"});  // gives all of it back
  bela_.Do({"sync"});
  ExpectOneLogWith(tomas_);
  EXPECT_EQ(tomas_.Try({"animal", "show", "bela1"}).code, 0);
}

TEST_F(SnapshotE2e, GoesOverToTheLogThatWentOnOtherwiseAfterALoss) {
  const std::string code = Invitation();
  Save();
  bela_.Do({"join", "-"}, code);
  ASSERT_TRUE(bela_.Ask({"status"}).contains("snapshot"));
  AddAnimal(bela_, 1);
  PutBack();
  AddAnimal(mira_, 1);
  mira_.Do({"sync"});  // at the place that bela's entry had
  bela_.Do({"sync"});
  EXPECT_FALSE(bela_.Ask({"status"}).contains("snapshot"));
  ExpectOneLogWith(mira_);
  EXPECT_EQ(mira_.Try({"animal", "show", "bela1"}).code, 0);
}

}  // namespace
}  // namespace broodpact::e2e
