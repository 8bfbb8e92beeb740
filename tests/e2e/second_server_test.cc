// Goal: when the server is gone for good, a fresh one takes its place: a registrar gives it the
// log, names it, and the others follow; nobody loses anything, also not what was delivered to the
// old server alone. Method: real processes; the old server's folder is removed.

#include <filesystem>
#include <optional>

#include <gtest/gtest.h>

#include "tests/e2e/two_keepers.h"

namespace broodpact::e2e {
namespace {

class SecondServer : public TwoKeepers {
 protected:
  SecondServer() : second_(folder_.path() / "second-server") {}

  void Add(Keeper& keeper, const std::string& animal) {
    keeper.Do({"animal", "add", animal, "--group", "hamorii-colima"});
  }
  void Burn() {
    server_.Kill();
    std::filesystem::remove_all(server_.data());
    second_.Start();
  }
  // The second one lacks what Mira alone has, and goes on.
  void TakeWithoutRosa() {
    Add(mira_, "rosa");
    mira_.Do({"sync"});  // Tomas has seen nothing of it
    Burn();
    tomas_.Do({"server", "take", "-"}, second_.claim_code());
    Add(tomas_, "ema");
    tomas_.Do({"sync"});
  }
  static bool Has(Keeper& keeper, const std::string& animal) {
    return keeper.Try({"animal", "show", animal}).code == 0;
  }
  void ExpectOneLog() {
    EXPECT_EQ(mira_.Ask({"status"})["log_hash"], tomas_.Ask({"status"})["log_hash"]);
    for (Keeper* keeper : {&mira_, &tomas_}) {
      EXPECT_TRUE(keeper->Ask({"heads"})["doubts"].empty());
      EXPECT_TRUE(keeper->Ask({"verify"})["faults"].empty());
      EXPECT_EQ(keeper->Ask({"status"}).value("undelivered", 0), 0);
    }
  }

  Server second_;
};

TEST_F(SecondServer, TakesTheLogAtTheSamePlacesAndIsFollowed) {
  Add(mira_, "rosa");
  mira_.Do({"sync"});
  tomas_.Do({"sync"});
  const auto before = tomas_.Ask({"status"})["log_hash"];
  Burn();
  Add(mira_, "dora");  // offline
  tomas_.Do({"server", "take", "-"}, second_.claim_code());
  EXPECT_EQ(tomas_.Ask({"status"})["log_hash"], before);
  EXPECT_EQ(tomas_.Ask({"heads"})["last"]["epoch"], 2);
  const std::string code = tomas_.Do({"server", "name"});
  mira_.Do({"server", "move", "-"}, code);
  tomas_.Do({"sync"});
  EXPECT_TRUE(Has(tomas_, "dora"));
  ExpectOneLog();
}

TEST_F(SecondServer, IsHintedAtByAnInvitationThatNamesTheOneThatIsGone) {
  const std::string code = Invitation();
  Burn();
  Keeper iva(folder_.path(), "iva");
  const Outcome gone = iva.Try({"join", "-"}, code);
  EXPECT_EQ(gone.code, 6);
  EXPECT_NE(gone.err.find("broodpact server name"), std::string::npos) << gone.err;
}

TEST_F(SecondServer, TakesWhatTheOldOneHadFromWhoeverHasIt) {
  TakeWithoutRosa();
  mira_.Do({"server", "move", "-"}, tomas_.Do({"server", "name"}));
  tomas_.Do({"sync"});
  EXPECT_TRUE(Has(tomas_, "rosa"));
  EXPECT_TRUE(Has(mira_, "ema"));
  ExpectOneLog();
}

// Iva comes in by an invitation that only the old server and she have: the registrar's computer is
// put back to before it.
class ServerWithoutAnInvitation : public SecondServer {
 protected:
  void SetUp() override {
    SecondServer::SetUp();
    tomas_.Do({"sync"});
    registrar_.emplace(tomas_.CopyTo("before"));
    iva_.Do({"join", "-"}, Invitation());
    Add(iva_, "rosa");
    iva_.Do({"sync"});
    Burn();
    registrar_->Do({"server", "take", "-"}, second_.claim_code());
  }
  void ExpectAllThere() {
    iva_.Do({"sync"});
    registrar_->Do({"sync"});
    mira_.Do({"server", "move", "-"}, registrar_->Do({"server", "name"}));
    for (Keeper* keeper : {&iva_, &*registrar_, &mira_}) {
      EXPECT_TRUE(Has(*keeper, "iva/rosa"));
      EXPECT_TRUE(keeper->Ask({"heads"})["doubts"].empty());
      EXPECT_TRUE(keeper->Ask({"verify"})["faults"].empty());
      EXPECT_EQ(keeper->Ask({"status"}).value("undelivered", 0), 0);
    }
    EXPECT_EQ(mira_.Ask({"status"})["log_hash"], iva_.Ask({"status"})["log_hash"]);
  }

  Keeper iva_{folder_.path(), "iva"};
  std::optional<Keeper> registrar_;
};

TEST_F(ServerWithoutAnInvitation, TakesItFromTheNewcomer) {
  iva_.Do({"server", "move", "-"}, registrar_->Do({"server", "name"}));
  ExpectAllThere();
}

TEST_F(ServerWithoutAnInvitation, ThatCannotHaveItAnyMoreLetsTheNewcomerInByANewOne) {
  Add(*registrar_, "dora");  // where the invitation stood
  registrar_->Do({"sync"});
  const std::string named = registrar_->Do({"server", "name"});
  const Outcome moved = iva_.Try({"server", "move", "-"}, named);
  EXPECT_EQ(moved.code, 4) << moved.err;
  EXPECT_NE(moved.err.find("broodpact join"), std::string::npos) << moved.err;
  const Outcome synced = iva_.Try({"sync"});
  EXPECT_EQ(synced.code, 4) << synced.err;
  EXPECT_NE(synced.err.find("broodpact join"), std::string::npos) << synced.err;
  const std::string code = registrar_->Do({"invite"});
  registrar_->Do({"sync"});
  iva_.Do({"join", "-"}, code);
  ExpectAllThere();
}

TEST_F(SecondServer, IsNamedByRegistrarsAlone) {
  tomas_.Do({"sync"});
  mira_.Do({"sync"});
  const Outcome named = mira_.Try({"server", "name", "--json"});
  EXPECT_EQ(named.code, 4) << named.out << named.err;
  EXPECT_NE(named.err.find("NOT_REGISTRAR"), std::string::npos) << named.err;
  Burn();
  const Outcome taken = mira_.Try({"server", "take", second_.claim_code(), "--json"});
  EXPECT_EQ(taken.code, 4) << taken.out << taken.err;
  EXPECT_NE(taken.err.find("NOT_REGISTRAR"), std::string::npos) << taken.err;
}

TEST_F(SecondServer, IsNotFollowedByAMistypedOrForeignCode) {
  mira_.Do({"sync"});
  std::string code = tomas_.Do({"server", "name"});
  code[code.size() / 2] = code[code.size() / 2] == 'q' ? 'p' : 'q';
  const Outcome mistyped = mira_.Try({"server", "move", code, "--json"});
  EXPECT_NE(mistyped.code, 0);
  EXPECT_NE(mistyped.err.find("SERVER_CODE"), std::string::npos) << mistyped.err;
  const Outcome invitation = mira_.Try({"server", "move", Invitation(), "--json"});
  EXPECT_NE(invitation.err.find("SERVER_CODE"), std::string::npos) << invitation.err;
  const Outcome member = tomas_.Try({"server", "take", Invitation(), "--json"});
  EXPECT_NE(member.err.find("CODE_KIND"), std::string::npos) << member.err;
  mira_.Do({"sync"});  // the server that it had is still its own
}

TEST_F(SecondServer, IsNotLeftAgainForOneThatWasLeftBefore) {
  mira_.Do({"sync"});
  tomas_.Do({"sync"});
  const std::string old_code = tomas_.Do({"server", "name"});
  second_.Start();
  tomas_.Do({"server", "take", "-"}, second_.claim_code());
  mira_.Do({"server", "move", "-"}, tomas_.Do({"server", "name"}));
  const Outcome back = mira_.Try({"server", "move", "-", "--json"}, old_code);
  EXPECT_NE(back.code, 0);
  EXPECT_NE(back.err.find("SERVER_OLDER"), std::string::npos) << back.err;
  mira_.Do({"sync"});
  ExpectOneLog();
}

TEST_F(SecondServer, OfTwoThatTwoRegistrarsSetUpOneIsAgreedOn) {
  tomas_.Do({"sync"});
  tomas_.Do({"keeper", "role", "mira", "registrar"});
  tomas_.Do({"sync"});
  mira_.Do({"sync"});
  Burn();
  Server third(folder_.path() / "third-server");
  third.Start();
  tomas_.Do({"server", "take", "-"}, second_.claim_code());
  mira_.Do({"server", "take", "-"}, third.claim_code());
  Add(tomas_, "rosa");
  tomas_.Do({"sync"});
  Add(mira_, "ema");
  mira_.Do({"sync"});
  third.Kill();
  mira_.Do({"server", "move", "-"}, tomas_.Do({"server", "name"}));
  tomas_.Do({"sync"});
  EXPECT_TRUE(Has(tomas_, "ema"));
  EXPECT_TRUE(Has(mira_, "rosa"));
  ExpectOneLog();
}

TEST_F(SecondServer, IsFollowedByAThirdAndWhoMissedItLosesNothing) {
  TakeWithoutRosa();
  second_.Kill();
  Server third(folder_.path() / "third-server");
  third.Start();
  tomas_.Do({"server", "take", "-"}, third.claim_code());
  Add(tomas_, "iga");
  tomas_.Do({"sync"});
  mira_.Do({"server", "move", "-"}, tomas_.Do({"server", "name"}));
  tomas_.Do({"sync"});
  EXPECT_TRUE(Has(tomas_, "rosa"));
  EXPECT_TRUE(Has(mira_, "ema"));
  EXPECT_TRUE(Has(mira_, "iga"));
  ExpectOneLog();
}

// Two registrars, one of whom sets up the second server; the other one has never been there when
// she sets up the third.
class ThirdServer : public SecondServer {
 protected:
  ThirdServer() : third_(folder_.path() / "third-server"), iva_(folder_.path(), "iva") {}

  void SetUp() override {
    SecondServer::SetUp();
    iva_.Do({"join", "-"}, Invitation());
    tomas_.Do({"keeper", "role", "mira", "registrar"});
    for (Keeper* keeper : {&tomas_, &mira_, &iva_}) keeper->Do({"sync"});
    Burn();
    tomas_.Do({"server", "take", "-"}, second_.claim_code());
  }
  // Returns the third one's code.
  std::string TakeByMira() {
    second_.Kill();
    third_.Start();
    mira_.Do({"server", "take", "-"}, third_.claim_code());
    Add(mira_, "ema");
    mira_.Do({"sync"});
    return mira_.Do({"server", "name"});
  }
  Server third_;
  Keeper iva_;
};

TEST_F(ThirdServer, BelievesAMemberOfOneThatItNeverHeardOfByTheCodeThatLedThere) {
  iva_.Do({"server", "move", "-"}, tomas_.Do({"server", "name"}));
  Add(iva_, "rosa");
  iva_.Do({"sync"});
  const std::string before = FirstArrivalOf(iva_, "rosa");
  // Tomas' computer is gone for good too.
  iva_.Do({"server", "move", "-"}, TakeByMira());
  mira_.Do({"sync"});
  EXPECT_TRUE(Has(mira_, "iva/rosa"));
  EXPECT_TRUE(Has(iva_, "mira/ema"));
  EXPECT_EQ(FirstArrivalOf(mira_, "rosa"), before);
  EXPECT_EQ(mira_.Ask({"status"})["log_hash"], iva_.Ask({"status"})["log_hash"]);
  EXPECT_TRUE(iva_.Ask({"heads"})["doubts"].empty());
}

TEST_F(ThirdServer, BelievesWhoWasLedToTheSecondByNobodysCodeOnceARegistrarVouches) {
  const std::string second_code = tomas_.Do({"server", "name"});
  Keeper zora(folder_.path(), "zora");
  zora.Do({"join", "-"}, Invitation());
  Add(zora, "rosa");
  zora.Do({"sync"});
  const std::string before = FirstArrivalOf(zora, "rosa");
  const std::string code = TakeByMira();
  const Outcome early = zora.Try({"server", "move", "-", "--json"}, code);
  EXPECT_NE(early.err.find("SERVER_UNKNOWN"), std::string::npos) << early.err;
  EXPECT_EQ(zora.Try({"server", "vouch", "-"}, second_code).code, 4);
  mira_.Do({"server", "vouch", "-"}, second_code);
  zora.Do({"sync"});
  mira_.Do({"sync"});
  EXPECT_TRUE(Has(mira_, "zora/rosa"));
  EXPECT_EQ(FirstArrivalOf(mira_, "rosa"), before);
  EXPECT_TRUE(zora.Ask({"heads"})["doubts"].empty());
}

TEST_F(ThirdServer, ShowsTheCodesThatLedThere) {
  const std::string code = tomas_.Do({"server", "name"});
  EXPECT_TRUE(iva_.Ask({"server", "codes"})["codes"].empty());
  iva_.Do({"server", "move", "-"}, code);
  EXPECT_EQ(iva_.Do({"server", "codes"}), code);
}

TEST_F(ThirdServer, KnowsADeviceWhoseKeyTookAnothersPlaceAtTheSecond) {
  iva_.Do({"server", "move", "-"}, tomas_.Do({"server", "name"}));
  iva_.Do({"device", "rotate", "--yes"});
  iva_.Do({"device", "rotate", "--yes"});
  Add(iva_, "rosa");
  iva_.Do({"sync"});
  iva_.Do({"server", "move", "-"}, TakeByMira());
  mira_.Do({"sync"});
  EXPECT_TRUE(Has(mira_, "iva/rosa"));
  EXPECT_EQ(mira_.Ask({"status"})["log_hash"], iva_.Ask({"status"})["log_hash"]);
  EXPECT_EQ(iva_.Ask({"status"}).value("undelivered", 0), 0);
}

TEST_F(ThirdServer, DoesNotBelieveTheSecondOneWithoutARegistrarsWordAndDoubtsNothing) {
  // Came in at the second one, and was led there by nobody's code.
  Keeper zora(folder_.path(), "zora");
  zora.Do({"join", "-"}, Invitation());
  Add(zora, "rosa");
  zora.Do({"sync"});
  const std::string code = TakeByMira();
  const Outcome early = zora.Try({"server", "move", "-", "--json"}, code);
  EXPECT_NE(early.code, 0);
  EXPECT_TRUE(zora.Ask({"heads"})["doubts"].empty());
  tomas_.Do({"server", "move", "-"}, code);
  for (Keeper* keeper : {&zora, &tomas_, &mira_}) keeper->Do({"sync"});
  EXPECT_TRUE(Has(mira_, "zora/rosa"));
  EXPECT_TRUE(Has(zora, "mira/ema"));
  ExpectOneLog();
}

TEST_F(SecondServer, LeavesTheOldOneForgotten) {
  mira_.Do({"sync"});
  tomas_.Do({"sync"});
  server_.Kill();
  second_.Start();
  tomas_.Do({"server", "take", "-"}, second_.claim_code());
  const Outcome again = mira_.Try({"server", "take", second_.claim_code(), "--json"});
  EXPECT_NE(again.code, 0);
  // Whoever has not moved and finds the old one up again goes on with it, and later follows.
  server_.Start();
  Add(mira_, "rosa");
  mira_.Do({"sync"});
  mira_.Do({"server", "move", "-"}, tomas_.Do({"server", "name"}));
  tomas_.Do({"sync"});
  EXPECT_TRUE(Has(tomas_, "rosa"));
  ExpectOneLog();
}

}  // namespace
}  // namespace broodpact::e2e
