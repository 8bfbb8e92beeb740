// Goal: the three things that the tool is used for work from the command line, offline and across
// a server: recording a loan, settling a clutch, finding a male. Method: real processes on real
// homes; server and keepers are killed and started again in between.

#include <csignal>

#include <gtest/gtest.h>

#include "tests/e2e/cooperative.h"

namespace broodpact::e2e {
namespace {

// Tomas founds and owns a male, Mira has a female, Bela raises. All are in, and synced.
class MainJob : public testing::Test {
 protected:
  MainJob()
      : folder_("broodpact-e2e"),
        server_(folder_.path() / "server"),
        tomas_(folder_.path(), "tomas"),
        mira_(folder_.path(), "mira"),
        bela_(folder_.path(), "bela") {}

  void SetUp() override {
    tomas_.Do({"found", "The cellar cooperative"});
    tomas_.Do({"group", "add", "hamorii-colima", "--taxon", "Brachypelma hamorii"});
    tomas_.Do({"animal", "add", "cyril", "--group", "hamorii-colima", "--sex", "male", "--method",
               "adult-form", "--mature", "2026-10-02"});
    server_.Start();
    tomas_.Do({"join", server_.claim_code()});
    for (Keeper* keeper : {&mira_, &bela_}) {
      const std::string code = tomas_.Do({"invite"});
      tomas_.Do({"sync"});
      keeper->Do({"join", "-"}, code);
    }
    mira_.Do({"animal", "add", "rosa", "--group", "hamorii-colima", "--sex", "female", "--hatched",
              "2016"});
    SyncAll();
  }

  void SyncAll() {
    for (int round = 0; round < 2; ++round) {
      for (Keeper* keeper : {&tomas_, &mira_, &bela_}) keeper->Do({"sync"});
    }
  }

  // A loan in force, the male with Mira, paired.
  void LendAndPair() {
    tomas_.Do({"loan", "offer", "cyril", "--to", "mira", "--name", "rosa-26", "--share", "tomas=1",
               "--share", "mira=1", "--share", "bela=1", "--role", "bela=raiser"});
    SyncAll();
    mira_.Do({"loan", "accept", "rosa-26"});
    bela_.Do({"loan", "accept", "rosa-26"});
    SyncAll();
    tomas_.Do({"loan", "send", "rosa-26", "--on", "2026-10-20"});
    mira_.Do({"sync"});
    SyncAll();
    mira_.Do({"loan", "receive", "rosa-26", "--on", "2026-10-21"});
    mira_.Do({"pair", "cyril", "rosa", "--on", "2026-10-25"});
  }

  Folder folder_;
  Server server_;
  Keeper tomas_;
  Keeper mira_;
  Keeper bela_;
};

TEST_F(MainJob, RecordsALoanFromTheOfferToTheReturn) {
  LendAndPair();
  SyncAll();
  nlohmann::json loan = tomas_.Ask({"loan", "show", "rosa-26"});
  EXPECT_EQ(loan["state"], "in force");
  EXPECT_EQ(loan["holder"]["name"], "mira");
  ASSERT_EQ(loan["signers"].size(), 3U);
  for (const auto& signer : loan["signers"]) EXPECT_NE(signer["signature_time"], "");

  mira_.Do({"loan", "return", "rosa-26"});
  SyncAll();
  tomas_.Do({"loan", "receive", "rosa-26"});
  tomas_.Do({"loan", "close", "rosa-26"});
  SyncAll();
  loan = bela_.Ask({"loan", "show", "rosa-26"});
  EXPECT_EQ(loan["state"], "closed");
  EXPECT_EQ(loan["holder"]["name"], "tomas");
}

TEST_F(MainJob, SettlesAClutchToTheLastSling) {
  LendAndPair();
  mira_.Do({"sac", "laid", "rosa", "--on", "2026-11-01", "--name", "C1"});
  mira_.Do({"count", "C1", "--living", "187", "--dead", "4", "--on", "2026-11-20"});
  const nlohmann::json preview = mira_.Ask({"split", "C1", "--preview"});
  EXPECT_EQ(preview["slings_counted"], 187);
  EXPECT_GE(preview["working"].size(), 4U);
  mira_.Do({"split", "C1"});
  SyncAll();

  int sum = 0;
  const nlohmann::json split = tomas_.Ask({"split", "C1", "--preview"});
  for (const auto& part : split["parts"]) {
    sum += part["slings"].get<int>();
    EXPECT_GE(part["slings"], 62);
    EXPECT_LE(part["slings"], 63);
  }
  EXPECT_EQ(sum, 187);
  const std::string lot = split["parts"][0]["lot"]["id"];
  const int slings = split["parts"][0]["slings"];

  const nlohmann::json given = mira_.Ask({"lot", "give", lot, "--slings", std::to_string(slings)});
  SyncAll();
  tomas_.Do({"lot", "receive", given["subject"]["id"].get<std::string>(), "--living",
             std::to_string(slings - 2), "--dead", "2"});
  SyncAll();
  const nlohmann::json accounts = bela_.Ask({"sac", "show", "C1"})["accounts"];
  EXPECT_EQ(accounts["slings_hatched"], 191);
  EXPECT_EQ(accounts["slings_living"], 185);
  EXPECT_EQ(accounts["slings_dead"], 6);
  EXPECT_EQ(accounts["slings_unaccounted"], 0);
}

TEST_F(MainJob, FindsAMatureMaleOfAGroupOfflineOnEveryReplica) {
  server_.Kill();
  for (Keeper* keeper : {&tomas_, &mira_, &bela_}) {
    const nlohmann::json found = keeper->Ask({"find", "male", "--for", "rosa"});
    ASSERT_EQ(found["matches"].size(), 1U);
    EXPECT_EQ(found["matches"][0]["animal"]["name"], "cyril");
    EXPECT_EQ(found["matches"][0]["availability"], "free");
  }
}

TEST_F(MainJob, ShowsTheSameRegistryOnEveryReplicaAfterKillsInBetween) {
  LendAndPair();
  server_.Kill();
  server_.Start();
  std::unique_ptr<Process> follower = tomas_.Begin({"sync", "--follow"});
  mira_.Do({"sync"});
  follower->Signal(SIGKILL);
  follower->Wait();
  server_.Kill();
  server_.Start();
  SyncAll();
  const nlohmann::json tomas = tomas_.Ask({"verify"});
  for (Keeper* keeper : {&mira_, &bela_}) {
    const nlohmann::json other = keeper->Ask({"verify"});
    EXPECT_EQ(other["state_digest"], tomas["state_digest"]);
    EXPECT_EQ(other["log_hash"], tomas["log_hash"]);
  }
  EXPECT_TRUE(tomas["faults"].empty());
}

TEST_F(MainJob, TellsTheLoserWhatBeatHimWhenOneMaleIsPromisedTwice) {
  bela_.Do({"animal", "add", "vlasta", "--group", "hamorii-colima", "--sex", "female"});
  for (const char* borrower : {"mira", "bela"}) {
    tomas_.Do(
        {"loan", "offer", "cyril", "--to", borrower, "--name", std::string("to-") + borrower});
  }
  SyncAll();
  mira_.Do({"loan", "accept", "to-mira"});  // both offline, both in good faith
  bela_.Do({"loan", "accept", "to-bela"});
  bela_.Do({"sync"});
  mira_.Do({"sync"});
  SyncAll();
  EXPECT_EQ(tomas_.Ask({"loan", "show", "to-bela"})["state"], "in force");
  EXPECT_EQ(tomas_.Ask({"loan", "show", "to-mira"})["state"], "superseded");
  for (Keeper* keeper : {&tomas_, &mira_, &bela_}) {
    EXPECT_EQ(keeper->Ask({"clashes"})["clashes"].size(), 1U) << keeper->name();
  }
}

}  // namespace
}  // namespace broodpact::e2e
