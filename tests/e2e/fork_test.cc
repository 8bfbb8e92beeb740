// Goal: a copied folder, a backup that was put back, and a clock that is years off are told in one
// message and mended by the next sync; nothing is lost and nobody waits. Method: real processes on
// copies of real folders; libfaketime for the clock, where it is installed.

#include <filesystem>
#include <fstream>

#include <gtest/gtest.h>

#include "tests/e2e/two_keepers.h"

namespace broodpact::e2e {
namespace {

class Forks : public TwoKeepers {
 protected:
  void Add(Keeper& keeper, const std::string& animal) {
    keeper.Do({"animal", "add", animal, "--group", "hamorii-colima"});
  }

  void ExpectArrived(const std::vector<std::string>& animals) {
    tomas_.Do({"sync"});
    for (const std::string& animal : animals) {
      EXPECT_EQ(tomas_.Try({"animal", "show", "mira/" + animal}).code, 0) << animal;
    }
  }

  // Every folder has all of the log, verifies, and comes to the same state.
  void ExpectAlike(const std::vector<Keeper*>& keepers) {
    for (Keeper* keeper : keepers) keeper->Do({"sync"});
    const nlohmann::json first = keepers.front()->Ask({"verify"});
    for (Keeper* keeper : keepers) {
      const nlohmann::json verified = keeper->Ask({"verify"});
      EXPECT_TRUE(verified["faults"].empty()) << verified;
      EXPECT_EQ(verified["state_digest"], first["state_digest"]);
      EXPECT_EQ(verified["log_hash"], first["log_hash"]);
      EXPECT_EQ(keeper->Ask({"status"})["undelivered"], 0);
    }
  }
};

TEST_F(Forks, WhoseOtherBranchABundleBringsSayWhoMendsThem) {
  Keeper copy = mira_.CopyTo("second-laptop");
  Add(mira_, "rosa");
  mira_.Do({"sync"});
  tomas_.Do({"sync"});
  Add(copy, "blanka");
  const std::string file = (folder_.path() / "copy.bundle").string();
  copy.Do({"bundle", "write", file});
  const Outcome read = tomas_.Try({"bundle", "read", file});
  EXPECT_NE(read.out.find("other branch"), std::string::npos) << read.out;
  EXPECT_NE(read.err.find("let their keeper read this file"), std::string::npos) << read.err;
  EXPECT_EQ(mira_.Ask({"bundle", "read", file})["mail_restated"], 1);
  mira_.Do({"sync"});
  ExpectArrived({"rosa", "blanka"});
}

TEST_F(Forks, OfACopiedFolderAreToldAndMendedByTheNextSync) {
  Keeper copy = mira_.CopyTo("second-laptop");
  Add(mira_, "rosa");
  mira_.Do({"sync"});
  Add(copy, "blanka");
  copy.Do({"animal", "moult", "blanka"});
  const nlohmann::json synced = copy.Ask({"sync"});
  ASSERT_EQ(synced["notes"].size(), 1U) << synced;
  EXPECT_NE(std::string(synced["notes"][0]).find("write in one folder only"), std::string::npos);
  EXPECT_EQ(synced["commits_sent"], 2);
  EXPECT_EQ(copy.Ask({"status"})["incarnation"], 2);
  EXPECT_EQ(mira_.Ask({"status"})["incarnation"], 1);
  ExpectArrived({"rosa", "blanka"});

  // Both go on, and are told nothing more.
  Add(mira_, "dora");
  Add(copy, "ema");
  EXPECT_TRUE(copy.Ask({"sync"})["notes"].empty());
  EXPECT_TRUE(mira_.Ask({"sync"})["notes"].empty());
  ExpectArrived({"dora", "ema"});
  ExpectAlike({&mira_, &copy, &tomas_});
  EXPECT_NE(tomas_.Do({"log"}).find("stated again commit 3 of life 1: entered blanka"),
            std::string::npos)
      << tomas_.Do({"log"});
}

TEST_F(Forks, TellWhatDoesNotCountOfWhatIsStatedAgain) {
  Add(mira_, "rosa");
  mira_.Do({"sync"});
  Keeper copy = mira_.CopyTo("second-laptop");
  mira_.Do({"animal", "give", "rosa", "--to", "tomas"});
  mira_.Do({"sync"});
  copy.Do({"animal", "moult", "rosa"});
  const nlohmann::json synced = copy.Ask({"sync"});
  ASSERT_EQ(synced["changed_verdicts"].size(), 1U) << synced;
  EXPECT_NE(synced["changed_verdicts"][0]["verdict"]["kind"], "VERDICT_KIND_COUNTED");
  ASSERT_EQ(synced["notes"].size(), 1U) << synced;
  const std::string note = synced["notes"][0];
  EXPECT_EQ(note.find("nothing is lost"), std::string::npos) << note;
  EXPECT_NE(note.find("1 commit does not count"), std::string::npos) << note;
}

TEST_F(Forks, OfTwoThatFollowAreMendedToo) {
  Keeper copy = mira_.CopyTo("second-laptop");
  Add(mira_, "rosa");
  Add(copy, "blanka");
  mira_.Do({"sync"});
  const std::unique_ptr<Process> follower = copy.Begin({"sync", "--follow"});
  ASSERT_TRUE(Eventually([&] { return follower->err().find("Following") != std::string::npos; }));
  EXPECT_TRUE(Eventually([&] {
    tomas_.Do({"sync"});
    return tomas_.Try({"animal", "show", "mira/blanka"}).code == 0;
  }));
  follower->Signal(SIGINT);
  EXPECT_EQ(follower->Wait().code, 0);
  ExpectAlike({&mira_, &copy, &tomas_});
}

// What it delivers for another brings the log in, with the commit that stands in the way.
TEST_F(Forks, OfACopyThatCarriesForAnotherAreMendedByTheSameSync) {
  Keeper copy = mira_.CopyTo("second-laptop");
  Add(tomas_, "frida");
  const std::string bundle = (folder_.path() / "tomas.bp").string();
  tomas_.Do({"bundle", "write", bundle});
  Add(mira_, "rosa");
  mira_.Do({"sync"});
  Add(copy, "blanka");
  copy.Do({"bundle", "read", bundle});
  copy.Do({"sync"});
  EXPECT_EQ(copy.Ask({"status"})["undelivered"], 0);
  ExpectArrived({"rosa", "blanka"});
  tomas_.Do({"sync"});
  mira_.Do({"sync"});
  copy.Do({"sync"});
  ExpectAlike({&mira_, &copy, &tomas_});
}

TEST_F(Forks, OfABackupThatWasPutBackLoseNothing) {
  Add(mira_, "rosa");
  mira_.Do({"sync"});
  const Keeper backup = mira_.CopyTo("backup");
  Add(mira_, "dora");
  mira_.Do({"sync"});
  Add(mira_, "lost");  // on the disk that died alone
  mira_.Restore(backup);
  EXPECT_EQ(mira_.Try({"animal", "show", "dora"}).code, 3);
  Add(mira_, "ema");
  mira_.Do({"status"});
  mira_.Do({"verify"});
  mira_.Do({"sync"});
  ExpectArrived({"rosa", "dora", "ema"});
  ExpectAlike({&mira_, &tomas_});
}

TEST_F(Forks, OfADatabaseThatWasPutBackAloneDoNotEvenCome) {
  const Keeper backup = mira_.CopyTo("backup");
  Add(mira_, "rosa");
  mira_.Do({"sync"});
  std::filesystem::remove_all(mira_.home() / "replica");
  std::filesystem::copy(backup.home() / "replica", mira_.home() / "replica",
                        std::filesystem::copy_options::recursive);
  Add(mira_, "dora");
  EXPECT_EQ(mira_.Ask({"status"})["incarnation"], 2);
  EXPECT_TRUE(mira_.Ask({"sync"})["notes"].empty());
  ExpectArrived({"rosa", "dora"});
  ExpectAlike({&mira_, &tomas_});
}

TEST_F(Forks, OfThreeCopiesEndInThreeLives) {
  Keeper second = mira_.CopyTo("second");
  Keeper third = mira_.CopyTo("third");
  Add(mira_, "rosa");
  Add(second, "blanka");
  Add(third, "cyril");
  for (Keeper* keeper : {&mira_, &second, &third}) keeper->Do({"sync"});
  EXPECT_EQ(third.Ask({"status"})["incarnation"], 3);
  ExpectArrived({"rosa", "blanka", "cyril"});
  ExpectAlike({&mira_, &second, &third, &tomas_});
}

// A clock that is wrong by so many days, for one keeper's commands.
std::map<std::string, std::string> ClockOff(const std::string& days) {
  return {{"LD_PRELOAD", "/usr/lib/x86_64-linux-gnu/faketime/libfaketimeMT.so.1"},
          {"FAKETIME", days + "d"},
          {"FAKETIME_DONT_FAKE_MONOTONIC", "1"}};
}

class Clocks : public Forks {
 protected:
  void SetUp() override {
    if (!std::filesystem::exists(ClockOff("0").at("LD_PRELOAD"))) {
      GTEST_SKIP() << "libfaketime is not installed";
    }
    Forks::SetUp();
  }
};

TEST_F(Clocks, ThatAreDaysOffAreToldAndStopNothing) {
  mira_.SetEnvironment(ClockOff("+40"));
  Add(mira_, "rosa");
  const nlohmann::json synced = mira_.Ask({"sync"});
  ASSERT_EQ(synced["notes"].size(), 1U) << synced;
  EXPECT_NE(std::string(synced["notes"][0]).find("40 days ahead of the server's"),
            std::string::npos)
      << synced;
  ExpectArrived({"rosa"});
  mira_.SetEnvironment({});
  EXPECT_TRUE(mira_.Ask({"sync"})["notes"].empty());
  ExpectAlike({&mira_, &tomas_});
}

TEST_F(Clocks, ThatAreYearsOffAreNamedAsTheCauseAndLoseNothing) {
  for (const char* const days : {"-3650", "+800", "+36500"}) {
    mira_.SetEnvironment(ClockOff(days));
    Add(mira_, std::string("of") + days);
    const Outcome outcome = mira_.Try({"sync"});
    EXPECT_EQ(outcome.code, 5) << days << outcome.err;
    EXPECT_NE(outcome.err.find("set the clock"), std::string::npos) << days << outcome.err;
  }
  mira_.SetEnvironment({});
  EXPECT_EQ(mira_.Ask({"status"})["undelivered"], 3);
  mira_.Do({"sync"});
  ExpectArrived({"of-3650", "of+800", "of+36500"});
  ExpectAlike({&mira_, &tomas_});
}

}  // namespace
}  // namespace broodpact::e2e
