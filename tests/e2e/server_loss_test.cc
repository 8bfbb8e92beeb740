// Goal: a server that is put back from an old backup has its log again from the keepers, at the
// same places where nothing else has arrived meanwhile; where something has, it says so, and what
// was lost arrives again. Nobody loses anything, and everybody ends with one log. Method: real
// processes; the server's folder is put back to an earlier state.

#include <filesystem>

#include <gtest/gtest.h>

#include "tests/e2e/two_keepers.h"

namespace broodpact::e2e {
namespace {

class ServerLoss : public TwoKeepers {
 protected:
  void Add(Keeper& keeper, const std::string& animal) {
    keeper.Do({"animal", "add", animal, "--group", "hamorii-colima"});
  }

  // What a sync says, notes included. It is to succeed.
  static std::string Synced(Keeper& keeper) {
    const Outcome outcome = keeper.Try({"sync"});
    EXPECT_EQ(outcome.code, 0) << outcome.err;
    return outcome.out + outcome.err;
  }
  static bool Has(Keeper& keeper, const std::string& animal) {
    return keeper.Try({"animal", "show", animal}).code == 0;
  }
  // Mira has what the server has lost, and Tomas was faster than she to give it something.
  void LoseRosaBehindDora() {
    Save();
    Add(mira_, "rosa");
    mira_.Do({"sync"});
    PutBack();
    Add(tomas_, "dora");
    tomas_.Do({"sync"});
  }
  std::string Bundle() const { return (folder_.path() / "tomas.bundle").string(); }
  // The server has lost what Tomas has, and says nothing of it; he has written it into a bundle.
  void LoseRosaAndBundleIt() {
    Save();
    Add(tomas_, "rosa");
    tomas_.Do({"sync"});
    tomas_.Do({"bundle", "write", Bundle()});
    PutBack();
    Add(mira_, "ema");
    mira_.Do({"sync"});
  }
  // Both have all of one log, and no doubt of it.
  void ExpectOneLog() {
    const nlohmann::json mira = mira_.Ask({"status"});
    const nlohmann::json tomas = tomas_.Ask({"status"});
    EXPECT_EQ(mira["log_hash"], tomas["log_hash"]);
    for (Keeper* keeper : {&mira_, &tomas_}) {
      EXPECT_TRUE(keeper->Ask({"heads"})["doubts"].empty());
      EXPECT_TRUE(keeper->Ask({"verify"})["faults"].empty());
      EXPECT_EQ(keeper->Ask({"status"}).value("undelivered", 0), 0);
    }
  }
};

TEST_F(ServerLoss, IsMadeGoodByWhoeverHasTheLogAtTheSamePlaces) {
  Save();
  for (const char* const animal : {"rosa", "dora"}) Add(mira_, animal);
  mira_.Do({"sync"});
  tomas_.Do({"sync"});
  const nlohmann::json before = mira_.Ask({"heads"})["last"];
  PutBack();
  const std::string said = Synced(mira_);
  EXPECT_NE(said.find("gave it 2 arrivals back"), std::string::npos) << said;
  const nlohmann::json after = mira_.Ask({"heads"})["last"];
  EXPECT_EQ(after["log_hash"], before["log_hash"]);
  EXPECT_EQ(after["epoch"], before["epoch"]);
  const std::string other = Synced(tomas_);
  EXPECT_EQ(other.find("lost"), std::string::npos) << other;
  ExpectOneLog();
}

TEST_F(ServerLoss, BeginsAnEpochWhereOthersWereFaster) {
  Save();
  Add(mira_, "rosa");
  mira_.Do({"sync"});
  PutBack();
  for (const char* const animal : {"dora", "ema"}) Add(tomas_, animal);
  tomas_.Do({"sync"});  // who has seen nothing of rosa
  Add(mira_, "flora");
  const std::string said = Synced(mira_);
  EXPECT_NE(said.find("has arrived again (1 commit by this replica)"), std::string::npos) << said;
  tomas_.Do({"sync"});
  for (const char* const animal : {"rosa", "dora", "ema", "flora"}) {
    EXPECT_TRUE(Has(mira_, animal)) << animal;
    EXPECT_TRUE(Has(tomas_, animal)) << animal;
  }
  EXPECT_EQ(mira_.Ask({"heads"})["last"]["epoch"], 2);
  ExpectOneLog();
  // Once is enough.
  const std::string again = Synced(mira_);
  EXPECT_EQ(again.find("lost"), std::string::npos) << again;
}

TEST_F(ServerLoss, IsToldByAChangeOfTheKeyToo) {
  LoseRosaBehindDora();
  const Outcome rotated = mira_.Try({"device", "rotate", "--yes"});
  EXPECT_EQ(rotated.code, 0) << rotated.err;
  EXPECT_NE(rotated.err.find("has arrived again"), std::string::npos) << rotated.err;
  const std::string again = Synced(mira_);
  EXPECT_EQ(again.find("has arrived again"), std::string::npos) << again;
}

TEST_F(ServerLoss, OfARotationThatAnOldCopyStatesAgainLetsTheNewKeyIn) {
  Save();
  Keeper old = mira_.CopyTo("old");
  mira_.Do({"device", "rotate", "--yes"});
  Add(mira_, "rosa");
  mira_.Do({"sync"});
  const std::string file = (folder_.path() / "rotated.bundle").string();
  mira_.Do({"bundle", "write", file});
  PutBack();
  Add(old, "ema");  // at the place that the rotation had
  old.Do({"sync"});
  EXPECT_EQ(old.Try({"bundle", "read", file}).code, 8);  // nobody has told of the loss
  old.Try({"sync"});
  mira_.Do({"sync"});
  // In one range, and from the beginning.
  tomas_.Do({"sync"});
  Keeper iva(folder_.path(), "iva");
  iva.Do({"join", "-"}, Invitation());
  mira_.Do({"sync"});
  for (Keeper* keeper : {&tomas_, &mira_, &iva}) {
    EXPECT_TRUE(keeper->Ask({"verify"})["faults"].empty());
    EXPECT_TRUE(Has(*keeper, "mira/rosa"));
  }
  iva.Do({"rebuild"});
}

TEST_F(ServerLoss, IsToldAtOnceToWhoeverFollows) {
  LoseRosaBehindDora();
  const std::unique_ptr<Process> follower = mira_.Begin({"sync", "--follow"});
  EXPECT_TRUE(Eventually([&] {
    return follower->err().find("has arrived again") != std::string::npos;
  })) << follower->err();
  EXPECT_TRUE(follower->running());
}

TEST_F(ServerLoss, ThatABundleTellsOfFirstIsForgivenOnceTheServerSaysSo) {
  LoseRosaAndBundleIt();
  EXPECT_EQ(mira_.Try({"bundle", "read", Bundle()}).code, 8);
  tomas_.Do({"sync"});
  mira_.Do({"sync"});
  ExpectOneLog();
}

TEST_F(ServerLoss, ThatABundleTellsOfIsMendedByItsReaderAlone) {
  LoseRosaAndBundleIt();
  EXPECT_EQ(mira_.Try({"bundle", "read", Bundle()}).code, 8);
  mira_.Do({"sync"});
  EXPECT_TRUE(mira_.Ask({"heads"})["doubts"].empty());
  EXPECT_TRUE(Has(mira_, "rosa"));
  const std::string before = FirstArrivalOf(tomas_, "rosa");
  EXPECT_FALSE(before.empty());
  EXPECT_EQ(FirstArrivalOf(mira_, "rosa"), before);
  tomas_.Do({"sync"});
  ExpectOneLog();
}

TEST_F(ServerLoss, OfANewcomersEntryIsMendedByTheNewcomer) {
  const std::string code = Invitation();
  Save();
  Keeper iva(folder_.path(), "iva");
  iva.Do({"join", "-"}, code);
  Add(iva, "rosa");
  iva.Do({"sync"});
  PutBack();
  iva.Do({"sync"});
  tomas_.Do({"sync"});
  mira_.Do({"sync"});
  EXPECT_TRUE(Has(mira_, "rosa"));
  ExpectOneLog();
}

TEST_F(ServerLoss, AfterWhichAnotherTookTheInvitationIsMendedByANewOne) {
  const std::string code = Invitation();
  Save();
  Keeper iva(folder_.path(), "iva");
  iva.Do({"join", "-"}, code);
  Add(iva, "rosa");
  iva.Do({"sync"});
  PutBack();
  Keeper vera(folder_.path(), "vera");
  vera.Do({"join", "-"}, code);
  EXPECT_NE(iva.Try({"sync"}).code, 0);
  iva.Do({"join", "-"}, Invitation());
  iva.Do({"sync"});
  tomas_.Do({"sync"});
  EXPECT_TRUE(Has(tomas_, "iva/rosa"));
  EXPECT_TRUE(iva.Ask({"verify"})["faults"].empty());
  EXPECT_EQ(iva.Ask({"status"}).value("undelivered", 0), 0);
}

TEST_F(ServerLoss, TogetherWithAnAuthorsLeavesTheOtherBranchWithWhoHasIt) {
  Save();
  Keeper backup = mira_.CopyTo("backup");
  for (const char* const animal : {"rosa", "dora"}) Add(mira_, animal);
  mira_.Do({"sync"});
  tomas_.Do({"sync"});
  PutBack();
  Add(backup, "ema");
  backup.Do({"sync"});
  const std::string said = Synced(tomas_);
  EXPECT_NE(said.find("2 commits of others had no place any more"), std::string::npos) << said;
  EXPECT_EQ(tomas_.Ask({"status"})["aside"], 2);
  const std::string file = (folder_.path() / "tomas.bundle").string();
  tomas_.Do({"bundle", "write", file});
  EXPECT_EQ(backup.Ask({"bundle", "read", file})["mail_restated"], 2);
  backup.Do({"sync"});
  tomas_.Do({"sync"});
  for (const char* const animal : {"rosa", "dora", "ema"}) {
    EXPECT_TRUE(Has(tomas_, animal)) << animal;
    EXPECT_TRUE(Has(backup, animal)) << animal;
  }
  EXPECT_EQ(tomas_.Ask({"status"})["aside"], 0);
  EXPECT_TRUE(tomas_.Ask({"verify"})["faults"].empty());
}

TEST_F(ServerLoss, OfAnOfferButNotOfItsAcceptanceTellsWhoAcceptedHowToDoItAgain) {
  tomas_.Do({"animal", "add", "cyril", "--group", "hamorii-colima", "--sex", "male", "--method",
             "adult-form", "--hatched", "2024", "--mature", "2026-09-10"});
  tomas_.Do({"sync"});
  Save();
  Keeper backup = tomas_.CopyTo("backup");
  tomas_.Do({"loan", "offer", "cyril", "--to", "mira", "--name", "L1", "--share", "tomas=1",
             "--share", "mira=1"});
  tomas_.Do({"sync"});
  mira_.Do({"sync"});
  mira_.Do({"loan", "accept", "L1"});
  mira_.Do({"sync"});
  PutBack();
  Add(backup, "ema");  // where the offer stood
  backup.Do({"sync"});
  const std::string said = Synced(mira_);
  const std::string command = "broodpact loan accept ";
  const std::size_t at = said.find(command);
  ASSERT_NE(at, std::string::npos) << said;
  const std::string loan =
      said.substr(at + command.size(), said.find('`', at) - at - command.size());
  const std::string file = (folder_.path() / "mira.bundle").string();
  mira_.Do({"bundle", "write", file});
  backup.Do({"bundle", "read", file});
  backup.Do({"sync"});
  mira_.Do({"sync"});
  mira_.Do({"loan", "accept", loan});
  mira_.Do({"sync"});
  backup.Do({"sync"});
  EXPECT_NE(backup.Ask({"loan", "show", "L1"}).dump().find("in force"), std::string::npos);
}

TEST_F(ServerLoss, OfWhatOnlyABundleHasIsMadeGoodByWhoeverReadsIt) {
  Keeper iva(folder_.path(), "iva");
  iva.Do({"join", "-"}, Invitation());
  Save();
  Add(tomas_, "rosa");
  tomas_.Do({"sync"});
  for (const char* const animal : {"dora", "ema", "flora", "zora"}) {
    mira_.Do({"sync"});
    Add(mira_, animal);  // which has seen more of the log than tomas
  }
  mira_.Do({"sync"});
  const std::string file = (folder_.path() / "mira.bundle").string();
  mira_.Do({"bundle", "write", file});
  PutBack();
  Add(iva, "blanka");
  iva.Do({"sync"});
  tomas_.Do({"sync"});
  EXPECT_EQ(tomas_.Ask({"bundle", "read", file})["mail_taken"], 4);
  tomas_.Do({"sync"});
  iva.Do({"sync"});
  for (const char* const animal : {"rosa", "dora", "ema", "flora", "zora"}) {
    EXPECT_TRUE(Has(iva, animal)) << animal;
  }
  mira_.Do({"sync"});
  ExpectOneLog();
}

TEST_F(ServerLoss, TwiceIsRememberedByTheKeepers) {
  LoseRosaBehindDora();
  mira_.Do({"sync"});
  PutBack();  // of the epoch that it began it knows nothing now
  Add(tomas_, "ema");
  tomas_.Do({"sync"});
  mira_.Do({"sync"});
  tomas_.Do({"sync"});
  mira_.Do({"sync"});
  for (const char* const animal : {"rosa", "dora", "ema"}) {
    EXPECT_TRUE(Has(mira_, animal)) << animal;
    EXPECT_TRUE(Has(tomas_, animal)) << animal;
  }
  ExpectOneLog();
}

}  // namespace
}  // namespace broodpact::e2e
