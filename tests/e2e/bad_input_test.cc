// Goal: whatever a keeper types or meets, the answer is one clear sentence and a documented exit
// code, and nothing is half-applied. Method: real commands with wrong input.

#include <filesystem>

#include <gtest/gtest.h>

#include "tests/e2e/cooperative.h"

namespace broodpact::e2e {
namespace {

class BadInput : public testing::Test {
 protected:
  BadInput() : folder_("broodpact-e2e"), tomas_(folder_.path(), "tomas") {}

  void Found() {
    tomas_.Do({"found", "The cellar cooperative"});
    tomas_.Do({"group", "add", "hamorii-colima", "--taxon", "Brachypelma hamorii"});
    tomas_.Do({"animal", "add", "rosa", "--group", "hamorii-colima", "--sex", "female"});
  }

  // Tries a command, expects this exit code and these words on standard error, and nothing
  // recorded.
  void ExpectRefused(const std::vector<std::string>& words, int code, std::string_view said) {
    const std::uint64_t before = tomas_.Ask({"status"})["undelivered"];
    const Outcome outcome = tomas_.Try(words);
    EXPECT_EQ(outcome.code, code) << words.front() << ": " << outcome.out << outcome.err;
    EXPECT_NE(outcome.err.find(said), std::string::npos) << outcome.err;
    EXPECT_EQ(tomas_.Ask({"status"})["undelivered"], before);
  }

  Folder folder_;
  Keeper tomas_;
};

TEST_F(BadInput, AsksForStartWhereNoKeeperIs) {
  const Outcome outcome =
      RunToEnd({BROODPACT_CLI, "status", "--home", (folder_.path() / "nobody").string()},
               folder_.path() / "nobody.run");
  EXPECT_EQ(outcome.code, 5);
  EXPECT_NE(outcome.err.find("broodpact start"), std::string::npos) << outcome.err;
}

TEST_F(BadInput, AsksForACooperativeBeforeAnythingIsRecorded) {
  ExpectRefused({"group", "add", "hamorii-colima", "--taxon", "Brachypelma hamorii"}, 5, "found");
}

TEST_F(BadInput, RefusesAWrongCommandLineWithoutTryingAnything) {
  ExpectRefused({"animal", "fly", "rosa"}, 2, "fly");
  ExpectRefused({"animal", "add"}, 2, "--help");
}

TEST_F(BadInput, ListsCandidatesForAnUnknownSubject) {
  Found();
  ExpectRefused({"animal", "moult", "ros"}, 3, "rosa");
  ExpectRefused({"animal", "moult", "nobody"}, 3, "nobody");
}

TEST_F(BadInput, RefusesDatesThatCannotBe) {
  Found();
  ExpectRefused({"animal", "moult", "rosa", "--on", "2026-02-30"}, 2, "no such day");
  ExpectRefused({"animal", "moult", "rosa", "--on", "soon"}, 2, "not a date");
  ExpectRefused({"animal", "moult", "rosa", "--on", ""}, 2, "empty");
}

TEST_F(BadInput, RefusesDatesThatHaveNotCome) {
  Found();
  for (const char* const day : {"2199-01-01", "2199", "2198/2199?"}) {
    ExpectRefused({"animal", "moult", "rosa", "--on", day}, 2, "not come yet");
    ExpectRefused({"sac", "laid", "rosa", "--on", day}, 2, "not come yet");
  }
  EXPECT_TRUE(tomas_.Ask({"animal", "show", "rosa"})["moults"].empty());
}

TEST_F(BadInput, TakesDatesThatAreOnlyKnownRoughly) {
  Found();
  tomas_.Do({"animal", "moult", "rosa", "--on", "2025"});
  tomas_.Do({"animal", "moult", "rosa", "--on", "2025-06?"});
  tomas_.Do({"animal", "moult", "rosa", "--on", "2025-06-01/2025-06-10"});
  const nlohmann::json rosa = tomas_.Ask({"animal", "show", "rosa"});
  ASSERT_EQ(rosa["moults"].size(), 3U);
  EXPECT_EQ(rosa["moults"][1]["day"], "2025-06?");
}

TEST_F(BadInput, RefusesNamesThatAreTooLongOrNoText) {
  Found();
  ExpectRefused({"animal", "add", std::string(200, 'x'), "--group", "hamorii-colima"}, 2, "64");
  ExpectRefused({"animal", "add", "\xff\xfe", "--group", "hamorii-colima"}, 2, "UTF-8");
  ExpectRefused({"animal", "add", "rosa", "--group", "hamorii-colima"}, 5, "rosa");
}

TEST_F(BadInput, RefusesCountsThatDoNotAddUp) {
  Found();
  tomas_.Do({"sac", "laid", "rosa", "--name", "C1", "--on", "2026-09-01"});
  ExpectRefused({"count", "C1", "--living", "100", "--dead", "5", "--total", "110"}, 2, "105");
}

TEST_F(BadInput, RefusesACodeThatWasMistyped) {
  Found();
  ExpectRefused({"join", "broodpact1qqqqqqqqqqqqq"}, 2, "copy it whole");
}

TEST_F(BadInput, PrintsErrorsAsJsonWhereJsonIsAskedFor) {
  Found();
  const Outcome outcome = tomas_.Try({"animal", "show", "nobody", "--json"});
  const nlohmann::json error = nlohmann::json::parse(outcome.err, nullptr, false);
  ASSERT_FALSE(error.is_discarded()) << outcome.err;
  EXPECT_EQ(error["error"]["reason"], "UNKNOWN_SUBJECT");
  EXPECT_EQ(error["error"]["exit"], outcome.code);
}

TEST_F(BadInput, RefusesAKeyThatOthersMayRead) {
  Found();
  std::filesystem::permissions(
      tomas_.home() / "device.key",
      std::filesystem::perms::owner_all | std::filesystem::perms::others_read);
  const Outcome outcome = tomas_.Try({"animal", "moult", "rosa"});
  EXPECT_NE(outcome.code, 0);
  EXPECT_NE(outcome.err.find("chmod"), std::string::npos) << outcome.err;
}

TEST_F(BadInput, RefusesAnInvitationBeforeItArrivedAndAfterItWasUsed) {
  Found();
  Server server(folder_.path() / "server");
  server.Start();
  tomas_.Do({"join", server.claim_code()});
  const std::string code = tomas_.Do({"invite"});
  Keeper mira(folder_.path(), "mira");
  Outcome early = mira.Try({"join", "-"}, code);
  EXPECT_EQ(early.code, 3) << early.err;
  EXPECT_NE(early.err.find("sync"), std::string::npos) << early.err;

  tomas_.Do({"sync"});
  mira.Do({"join", "-"}, code);
  Keeper bela(folder_.path(), "bela");
  const Outcome used = bela.Try({"join", "-"}, code);
  EXPECT_EQ(used.code, 5) << used.err;
  EXPECT_NE(used.err.find("new one"), std::string::npos) << used.err;
  bela.Do({"found", "Another cooperative"});  // nothing was half-joined
}

}  // namespace
}  // namespace broodpact::e2e
