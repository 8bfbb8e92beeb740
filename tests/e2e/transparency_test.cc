// Goal: a server that forgets, rewrites or forks what it has signed is caught by the first keeper
// who can know, who is told what to do and keeps the evidence. Method: real processes; the folder
// of the server is put back to an earlier state, as a cheat or a bad restore would.

#include <filesystem>

#include <gtest/gtest.h>

#include "tests/e2e/two_keepers.h"

namespace broodpact::e2e {
namespace {

class Transparency : public TwoKeepers {
 protected:
  void Add(Keeper& keeper, const std::string& animal) {
    keeper.Do({"animal", "add", animal, "--group", "hamorii-colima"});
  }

  // The server's folder as it is now, under another name.
  void Save() {
    server_.Kill();
    std::filesystem::remove_all(saved());
    std::filesystem::copy(server_.data(), saved(), std::filesystem::copy_options::recursive);
    server_.Start();
  }
  void PutBack() {
    server_.Kill();
    std::filesystem::remove_all(server_.data());
    std::filesystem::copy(saved(), server_.data(), std::filesystem::copy_options::recursive);
    server_.Start();
  }

  // `keeper` is told, has the evidence, and goes on with all that needs no server.
  void ExpectConvicted(Keeper& keeper, const std::string& reason, std::string_view said) {
    const Outcome outcome = keeper.Try({"sync", "--json"});
    EXPECT_EQ(outcome.code, 8) << outcome.out << outcome.err;
    const nlohmann::json error = nlohmann::json::parse(outcome.err, nullptr, false);
    ASSERT_FALSE(error.is_discarded()) << outcome.err;
    EXPECT_EQ(error["error"]["reason"], reason) << outcome.err;
    EXPECT_NE(outcome.err.find(said), std::string::npos) << outcome.err;
    EXPECT_NE(outcome.err.find("broodpact heads"), std::string::npos) << outcome.err;

    const Outcome heads = keeper.Try({"heads", "--json"});
    EXPECT_EQ(heads.code, 8);
    const nlohmann::json list = nlohmann::json::parse(heads.out, nullptr, false);
    ASSERT_FALSE(list.is_discarded()) << heads.out;
    ASSERT_GE(list["doubts"].size(), 1U) << heads.out;
    const nlohmann::json& doubt = list["doubts"][0];
    EXPECT_EQ(std::string(doubt["ours"]["signature"]).size(), 128U) << doubt;
    EXPECT_EQ(std::string(doubt["theirs"]["signature"]).size(), 128U) << doubt;
    EXPECT_EQ(doubt["ours"]["server_key"], doubt["theirs"]["server_key"]);
    EXPECT_NE(doubt["ours"]["log_hash"], doubt["theirs"]["log_hash"]);

    EXPECT_EQ(keeper.Ask({"status"})["notes"].size(), 1U);
    EXPECT_TRUE(keeper.Ask({"verify"})["faults"].empty());
    Add(keeper, "after-" + reason);
  }

  std::filesystem::path saved() const { return folder_.path() / "saved"; }
};

TEST_F(Transparency, ShowsTheLastHeadAndNoDoubtOfAnHonestServer) {
  Add(mira_, "rosa");
  mira_.Do({"sync"});
  tomas_.Do({"sync"});
  const nlohmann::json mira = mira_.Ask({"heads"});
  const nlohmann::json tomas = tomas_.Ask({"heads"});
  EXPECT_EQ(mira["last"]["tree_root"], tomas["last"]["tree_root"]);
  EXPECT_EQ(mira["last"]["log_hash"], mira_.Ask({"status"})["log_hash"]);
  EXPECT_TRUE(mira["doubts"].empty());
}

TEST_F(Transparency, CatchesAServerThatForgets) {
  Save();
  Add(mira_, "rosa");
  mira_.Do({"sync"});
  PutBack();
  ExpectConvicted(mira_, "LOG_SHRUNK", "lost what it had acknowledged");
}

TEST_F(Transparency, CatchesAServerThatRewrites) {
  Save();
  Add(mira_, "rosa");
  mira_.Do({"sync"});
  PutBack();
  for (const char* const animal : {"dora", "ema", "flora"}) Add(tomas_, animal);
  tomas_.Do({"sync"});  // who has seen nothing of rosa
  ExpectConvicted(mira_, "LOG_FORKED", "two histories");
}

}  // namespace
}  // namespace broodpact::e2e
