// Goal: a keeper can begin, found and see how things stand, and mistakes before there is a
// cooperative or a server say what to do. Method: command lines on fresh folders.

#include "cli/commands/member.h"

#include "tests/cli/testing/cli_test.h"

namespace broodpact::cli {
namespace {

using ::testing::HasSubstr;

class MemberTest : public CliTest {};

TEST_F(MemberTest, BeginsWithNoServerAndNoCooperative) {
  const Answer answer = Say("mira", "start --name mira --region PL");
  EXPECT_EQ(answer.out, "You are mira here, with a key of your own.\n");
  EXPECT_THAT(answer.messages, HasSubstr("broodpact found"));
  const nlohmann::json status = Json("mira", "status");
  EXPECT_EQ(status["keeper"]["name"], "mira");
  EXPECT_EQ(status["keeper"]["region"], "PL");
  EXPECT_EQ(status["server"], "");
  EXPECT_EQ(status["undelivered"], 0);
}

TEST_F(MemberTest, BeginsOnce) {
  Do("mira", "start --name mira");
  EXPECT_EQ(Say("mira", "start --name mira").reason(), "ALREADY_STARTED");
}

TEST_F(MemberTest, SaysHowToBegin) {
  const Answer answer = Say("mira", "status");
  EXPECT_EQ(answer.reason(), "NOT_STARTED");
  EXPECT_EQ(answer.exit_code(), ExitCode::kUnsettled);
}

TEST_F(MemberTest, FoundsACooperativeAndIsItsRegistrar) {
  Do("mira", "start --name mira");
  const nlohmann::json founded = Json("mira", "found \"Colima circle\"");
  EXPECT_EQ(founded["subject"]["name"], "Colima circle");
  EXPECT_EQ(founded["subject"]["id"], founded["commit"]);
  EXPECT_EQ(founded["verdict"]["kind"], "VERDICT_KIND_COUNTED");
  const nlohmann::json status = Json("mira", "status");
  EXPECT_EQ(status["cooperative"]["name"], "Colima circle");
  EXPECT_EQ(status["keeper"]["role"], "registrar");
  EXPECT_EQ(status["undelivered"], 1);
  EXPECT_EQ(Say("mira", "found Another").reason(), "ALREADY_MEMBER");
}

TEST_F(MemberTest, NeedsACooperativeToActAndAServerToSyncOrInvite) {
  Do("mira", "start --name mira");
  EXPECT_EQ(Say("mira", "group add g --taxon t").reason(), "NO_COOPERATIVE");
  EXPECT_EQ(Say("mira", "animal add rosa --group g").reason(), "NO_COOPERATIVE");
  EXPECT_EQ(Say("mira", "animal moult rosa").reason(), "NO_COOPERATIVE");
  Do("mira", "found Circle");
  EXPECT_EQ(Say("mira", "sync").reason(), "NO_SERVER");
  EXPECT_EQ(Say("mira", "invite").reason(), "NO_SERVER");
}

TEST_F(MemberTest, IsHelpedWithACommandBelowAnother) {
  EXPECT_THAT(Do("mira", "help loan offer"), HasSubstr("Usage: broodpact loan offer"));
  EXPECT_THAT(Do("mira", "help loan"), HasSubstr("Commands:"));
  EXPECT_THAT(std::string(Say("mira", "help loan ofer").status.message()),
              HasSubstr("no help on 'loan ofer'"));
}

TEST_F(MemberTest, ReadsTheCodeFromStandardInput) {
  Do("mira", "start --name mira");
  EXPECT_EQ(Say("mira", "join -").reason(), "INVITE_CODE");
  input_ = "  broodpact1nonsense \r\nmore";
  const Answer answer = Say("mira", "join -");
  EXPECT_EQ(answer.reason(), "INVITE_CODE");
  EXPECT_EQ(answer.exit_code(), ExitCode::kUsage);
}

TEST_F(MemberTest, OwnDeviceIsMarkedAsSuchWhereverItIsShown) {
  society_.Found("mira");
  society_.Enter("tomas");
  EXPECT_TRUE(Json("mira", "status")["keeper"]["devices"][0]["own"].get<bool>());
  const nlohmann::json keepers = Json("mira", "keeper list")["keepers"];
  ASSERT_EQ(keepers.size(), 2U);
  EXPECT_TRUE(keepers[0]["devices"][0]["own"].get<bool>());
  EXPECT_FALSE(keepers[1]["devices"][0]["own"].get<bool>());
  EXPECT_TRUE(Json("mira", "keeper show mira")["devices"][0]["own"].get<bool>());
}

TEST_F(MemberTest, WhoHasLeftIsMarkedInTheList) {
  society_.Found("mira");
  society_.Enter("tomas");
  EXPECT_THAT(Do("mira", "keeper list"), ::testing::Not(HasSubstr("left")));
  Do("tomas", "keeper quit --yes");
  Deliver();
  EXPECT_THAT(Do("mira", "keeper list"), HasSubstr("left on 2026-11-25"));
}

TEST_F(MemberTest, TwoProcessesOnOneReplicaAreToldApart) {
  society_.Found("mira");
  const replica::Replica& held = society_.At("mira");
  std::ostringstream out;
  std::ostringstream messages;
  std::istringstream in;
  const Terminal terminal{.out = out, .messages = messages};
  const Desk desk{
      .terminal = terminal, .in = in, .home = held.home(), .surroundings = society_.surroundings()};
  const absl::Status status = RunFound(desk, {.name = "again"});
  EXPECT_EQ(ReasonOf(status), "REPLICA_BUSY");
  EXPECT_EQ(ExitCodeOf(status), ExitCode::kBusy);
}

// Mira, tomas and iva are registrars; iva has a second device.
class RegistrarsTest : public CliTest {
 protected:
  void SetUp() override {
    society_.Found("mira");
    society_.Enter("tomas");
    society_.Enter("iva");
    society_.EnterDevice("iva field", "iva");
    field_ = ToText(DeviceOf(society_.At("iva field").device_key()));
    for (const char* line : {"keeper role tomas registrar", "keeper role iva registrar"}) {
      Do("mira", line);
      Deliver();
    }
    Do("tomas", "keeper role iva registrar");
    Deliver();
  }

  std::string Revocation() const { return "device revoke " + field_ + " --yes"; }
  // Something that iva's second device states, and that arrives.
  void WriteOnField() {
    Do("iva field", "group add smithi --taxon \"Brachypelma smithi\"");
    Deliver();
  }
  nlohmann::json FieldAt(const std::string& keeper) {
    const nlohmann::json list = Json(keeper, "device list --of iva");
    for (const auto& device : list["devices"]) {
      if (device["id"] == field_) return device;
    }
    return {};
  }
  // The arrival of the first commit of iva's second device.
  std::string FirstArrivalOfField() {
    const nlohmann::json log = Json("mira", "log --limit 100");
    for (const auto& entry : log["entries"]) {
      if (entry["device_id"] == field_ && entry["seq"] == 1) return entry["arrival"].dump();
    }
    return "";
  }

  std::string field_;  // the id of iva's second device
};

TEST_F(RegistrarsTest, RevokeADeviceOfTheirOwnThoughOthersAreAskedTo) {
  Do("mira", Revocation());
  Deliver();
  EXPECT_THAT(Do("iva", Revocation()), HasSubstr("is revoked"));
  EXPECT_EQ(FieldAt("iva")["state"], "revoked");
}

TEST_F(RegistrarsTest, StepDownThoughOthersAreAskedToDemoteThem) {
  Do("mira", "keeper role iva keeper");
  Deliver();
  EXPECT_EQ(Do("iva", "keeper role iva keeper"), "iva is keeper now.\n");
}

TEST_F(RegistrarsTest, RevokeADeviceAtOnceOnceItsKeeperIsARegistrarNoMore) {
  Do("mira", Revocation());
  Do("iva", "keeper role iva keeper");
  Deliver();
  EXPECT_THAT(Do("tomas", Revocation()), HasSubstr("is revoked"));
  EXPECT_EQ(Json("tomas", "motion list")["motions"][0]["signers"].size(), 1U);
}

TEST_F(RegistrarsTest, AskForARevocationThatIsNoneBeforeEnoughHaveSigned) {
  const nlohmann::json asked = Json("mira", Revocation());
  EXPECT_THAT(asked["message"].get<std::string>(), HasSubstr("You ask that device"));
  EXPECT_EQ(asked["next"], "broodpact motion list");
  EXPECT_EQ(FieldAt("mira")["state"], "active");
  Deliver();
  EXPECT_THAT(Do("tomas", Revocation()), HasSubstr("is revoked"));
  EXPECT_EQ(FieldAt("tomas")["state"], "revoked");
}

TEST_F(RegistrarsTest, AreToldWhatCountsByTheMotionThatTheySign) {
  Do("mira", Revocation());
  WriteOnField();
  const Answer answer = Say("tomas", Revocation() + " --reason stolen");
  EXPECT_THAT(answer.out, HasSubstr("the last of it that counts is commit 1 of life 1"));
  EXPECT_EQ(FieldAt("tomas")["last_counted"], "commit 1 of life 1");
  EXPECT_THAT(answer.messages, HasSubstr("Your reason is not recorded"));
}

TEST_F(RegistrarsTest, SignNoMotionWithAnotherCutThanTheyName) {
  WriteOnField();
  Do("mira", Revocation());
  Deliver();
  const Answer answer = Say("tomas", Revocation() + " --last " + FirstArrivalOfField());
  EXPECT_EQ(answer.reason(), "CUT_OTHER");
  EXPECT_EQ(answer.exit_code(), ExitCode::kUnsettled);
  EXPECT_THAT(std::string(answer.status.message()), HasSubstr("commit 2 of life 1"));
  EXPECT_EQ(FieldAt("tomas")["state"], "active");
}

TEST_F(RegistrarsTest, SignAMotionWithTheCutThatTheyName) {
  Do("mira", Revocation() + " --last " + FirstArrivalOfField());
  WriteOnField();
  Do("tomas", Revocation() + " --last " + FirstArrivalOfField());
  EXPECT_EQ(FieldAt("tomas")["state"], "revoked");
}

}  // namespace
}  // namespace broodpact::cli
