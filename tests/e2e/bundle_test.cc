// Goal: keepers who meet without a network exchange by a file, and whoever is online first delivers
// for the other. Method: real processes; the server is away while they meet.

#include <filesystem>
#include <fstream>

#include <gtest/gtest.h>

#include "tests/e2e/two_keepers.h"

namespace broodpact::e2e {
namespace {

class Bundles : public TwoKeepers {
 protected:
  std::string File(const std::string& name) const { return (folder_.path() / name).string(); }

  std::string StandingOf(Keeper& keeper, const std::string& animal) {
    const nlohmann::json shown = keeper.Ask({"animal", "show", animal});
    return shown["standing"];
  }
};

TEST_F(Bundles, AreDeliveredForTheirAuthorsByWhoeverIsOnlineFirst) {
  tomas_.Do({"sync"});
  server_.Kill();
  mira_.Do({"animal", "add", "rosa", "--group", "hamorii-colima"});
  EXPECT_EQ(mira_.Ask({"bundle", "write", File("mira.bp")})["mail"], 1);
  const nlohmann::json shown = tomas_.Ask({"bundle", "show", File("mira.bp")});
  EXPECT_EQ(shown["writer"]["name"], "mira");
  EXPECT_EQ(shown["mail"], 1);
  EXPECT_EQ(tomas_.Ask({"bundle", "read", File("mira.bp")})["mail_taken"], 1);
  EXPECT_EQ(StandingOf(tomas_, "mira/rosa"), "STANDING_PROVISIONAL");
  EXPECT_EQ(tomas_.Ask({"status"})["carried"], 1);
  EXPECT_EQ(tomas_.Ask({"status"})["undelivered"], 0);

  server_.Start();
  tomas_.Do({"sync"});
  EXPECT_EQ(StandingOf(tomas_, "mira/rosa"), "STANDING_FINAL");
  EXPECT_EQ(tomas_.Ask({"status"})["carried"], 0);
  EXPECT_EQ(mira_.Ask({"status"})["undelivered"], 1);
  mira_.Do({"sync"});
  EXPECT_EQ(mira_.Ask({"status"})["undelivered"], 0);
  EXPECT_EQ(mira_.Ask({"verify"})["state_digest"], tomas_.Ask({"verify"})["state_digest"]);
}

TEST_F(Bundles, AreDeliveredInTheOrderInWhichOneThingRestsOnAnother) {
  tomas_.Do({"animal", "add", "cyril", "--group", "hamorii-colima", "--sex", "male", "--method",
             "adult-form", "--hatched", "2024", "--mature", "2026-09-10"});
  for (Keeper* keeper : {&tomas_, &mira_}) keeper->Do({"sync"});
  server_.Kill();
  const auto hand_over = [&](Keeper& from, Keeper& to) {
    from.Do({"bundle", "write", File("news.bp")});
    to.Do({"bundle", "read", File("news.bp")});
  };
  tomas_.Do({"loan", "offer", "cyril", "--to", "mira", "--name", "L1", "--share", "tomas=1",
             "--share", "mira=1"});
  hand_over(tomas_, mira_);
  mira_.Do({"loan", "accept", "L1"});
  hand_over(mira_, tomas_);
  tomas_.Do({"loan", "send", "L1"});
  hand_over(tomas_, mira_);
  mira_.Do({"loan", "receive", "L1", "--arrived", "well"});
  server_.Start();
  const nlohmann::json synced = mira_.Ask({"sync"});
  EXPECT_TRUE(synced.value("changed_verdicts", nlohmann::json::array()).empty()) << synced;
  EXPECT_EQ(synced["commits_sent"], 4);
  tomas_.Do({"sync"});
  for (Keeper* keeper : {&tomas_, &mira_}) {
    const nlohmann::json log = keeper->Ask({"log"});
    for (const nlohmann::json& entry : log["entries"]) {
      EXPECT_EQ(entry["verdict"]["kind"], "VERDICT_KIND_COUNTED") << entry;
    }
    EXPECT_EQ(keeper->Ask({"status"}).value("undelivered", 0), 0);
  }
}

TEST_F(Bundles, BringTheLogTooAndOnlyWhatIsLacking) {
  tomas_.Do({"sync"});
  tomas_.Do({"bundle", "write", File("tomas.bp")});
  mira_.Do({"animal", "add", "rosa", "--group", "hamorii-colima"});
  mira_.Do({"sync"});
  server_.Kill();
  const nlohmann::json all = mira_.Ask({"bundle", "write", File("all.bp")});
  EXPECT_EQ(all["arrivals_first"], 1);
  const nlohmann::json rest =
      mira_.Ask({"bundle", "write", File("rest.bp"), "--for", File("tomas.bp")});
  EXPECT_EQ(rest["arrivals_first"], rest["arrivals_last"]);
  EXPECT_EQ(tomas_.Ask({"bundle", "read", File("rest.bp")})["arrivals_taken"], 1);
  EXPECT_EQ(StandingOf(tomas_, "mira/rosa"), "STANDING_FINAL");
  EXPECT_EQ(tomas_.Ask({"bundle", "read", File("all.bp")})["arrivals_taken"], 0);
  EXPECT_EQ(mira_.Ask({"verify"})["state_digest"], tomas_.Ask({"verify"})["state_digest"]);
  server_.Start();
  tomas_.Do({"sync"});
}

TEST_F(Bundles, ThatAreNoneOrDamagedGiveOneErrorAndLoseNothing) {
  mira_.Do({"animal", "add", "rosa", "--group", "hamorii-colima"});
  mira_.Do({"bundle", "write", File("mira.bp")});
  std::ifstream in(File("mira.bp"), std::ios::binary);
  const std::string whole{std::istreambuf_iterator<char>(in), {}};
  const auto try_read = [&](const std::string& bytes) {
    std::ofstream(File("spoilt.bp"), std::ios::binary | std::ios::trunc) << bytes;
    return tomas_.Try({"bundle", "read", File("spoilt.bp")});
  };
  EXPECT_EQ(tomas_.Try({"bundle", "read", File("missing.bp")}).code, 3);
  EXPECT_EQ(try_read("").code, 2);
  EXPECT_EQ(try_read("no bundle at all, but long enough to be one").code, 2);
  EXPECT_EQ(try_read(whole.substr(0, whole.size() / 2)).code, 1);
  std::string flipped = whole;
  flipped[flipped.size() / 2] = static_cast<char>(flipped[flipped.size() / 2] ^ 1);
  EXPECT_EQ(try_read(flipped).code, 1);
  EXPECT_EQ(try_read(whole).code, 0);
  EXPECT_EQ(StandingOf(tomas_, "mira/rosa"), "STANDING_PROVISIONAL");
}

TEST_F(Bundles, CompareHeadsAndConvictAServerOfTwoHistories) {
  tomas_.Do({"sync"});
  // The server forks: mira is told one history, tomas another.
  server_.Kill();
  std::filesystem::copy(server_.data(), folder_.path() / "saved",
                        std::filesystem::copy_options::recursive);
  server_.Start();
  mira_.Do({"animal", "add", "rosa", "--group", "hamorii-colima"});
  mira_.Do({"sync"});
  server_.Kill();
  std::filesystem::remove_all(server_.data());
  std::filesystem::rename(folder_.path() / "saved", server_.data());
  server_.Start();
  tomas_.Do({"animal", "add", "dora", "--group", "hamorii-colima"});
  tomas_.Do({"sync"});
  server_.Kill();

  mira_.Do({"bundle", "write", File("mira.bp")});
  const Outcome outcome = tomas_.Try({"bundle", "read", File("mira.bp")});
  EXPECT_EQ(outcome.code, 8) << outcome.out << outcome.err;
  EXPECT_NE(outcome.err.find("two histories"), std::string::npos) << outcome.err;
  const Outcome heads = tomas_.Try({"heads", "--json"});
  EXPECT_EQ(heads.code, 8);
  const nlohmann::json doubts = nlohmann::json::parse(heads.out)["doubts"];
  ASSERT_EQ(doubts.size(), 1U);
  EXPECT_EQ(doubts[0]["ours"]["arrivals"], doubts[0]["theirs"]["arrivals"]);
  EXPECT_NE(doubts[0]["ours"]["log_hash"], doubts[0]["theirs"]["log_hash"]);
}

}  // namespace
}  // namespace broodpact::e2e
