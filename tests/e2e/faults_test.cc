// Goal: nothing acknowledged is lost and nothing is half-applied when a plug is pulled. Method:
// real processes killed with -9 in the middle of what they do, then started again.

#include <csignal>
#include <filesystem>
#include <fstream>
#include <thread>

#include <fmt/core.h>
#include <gtest/gtest.h>

#include "client/replica/replica.h"
#include "client/replica/view.h"
#include "tests/e2e/two_keepers.h"

namespace broodpact::e2e {
namespace {

class Faults : public TwoKeepers {
 protected:
  // So many commits of one keeper, made through the library: a process each would take minutes.
  void WriteOffline(const Keeper& keeper, int commits) {
    auto replica = replica::Replica::Open(replica::Home(keeper.home()), store::Access::kReadWrite,
                                          {device::SystemClock(), device::SystemRandomness()});
    ASSERT_TRUE(replica.ok()) << replica.status();
    const replica::View view((*replica)->view(), (*replica)->identity().keeper,
                             &(*replica)->view());
    const auto group = view.GroupNamed("hamorii-colima");
    ASSERT_TRUE(group.ok()) << group.status();
    for (int i = 0; i < commits; ++i) {
      const auto acted = (*replica)->Act(
          {facts::AnimalEntry{.animal = device::FreshId<AnimalId>(device::SystemRandomness()),
                              .group = *group,
                              .name = fmt::format("sling-{:05}", i)}});
      ASSERT_TRUE(acted.ok()) << acted.status();
    }
  }

  std::uint64_t ArrivalsOf(Keeper& keeper) { return keeper.Ask({"status"})["arrivals"]; }
  std::uint64_t UndeliveredOf(Keeper& keeper) { return keeper.Ask({"status"})["undelivered"]; }

  void ExpectSameAndSound() {
    const nlohmann::json tomas = tomas_.Ask({"verify"});
    const nlohmann::json mira = mira_.Ask({"verify"});
    EXPECT_TRUE(tomas["faults"].empty()) << tomas;
    EXPECT_TRUE(mira["faults"].empty()) << mira;
    EXPECT_EQ(tomas["state_digest"], mira["state_digest"]);
    EXPECT_EQ(tomas["log_hash"], mira["log_hash"]);
  }
};

TEST_F(Faults, LoseNothingWhenTheServerIsKilledInTheMiddleOfAPush) {
  WriteOffline(mira_, 10'000);
  const std::uint64_t before = ArrivalsOf(mira_);
  std::unique_ptr<Process> push = mira_.Begin({"sync"});
  std::this_thread::sleep_for(std::chrono::milliseconds(150));
  server_.Kill();
  const Outcome cut = push->Wait();
  EXPECT_TRUE(cut.code == 6 || cut.code == 0) << cut.code << cut.err;

  server_.Start();
  mira_.Do({"sync"});
  EXPECT_EQ(UndeliveredOf(mira_), 0U);
  EXPECT_EQ(ArrivalsOf(mira_), before + 10'000);
  tomas_.Do({"sync"});
  EXPECT_EQ(ArrivalsOf(tomas_), before + 10'000);
  ExpectSameAndSound();
}

TEST_F(Faults, LoseNothingWhenAKeeperIsKilledInTheMiddleOfAFirstSync) {
  WriteOffline(mira_, 5'000);
  mira_.Do({"sync"});
  for (const int milliseconds : {30, 60, 90, 140}) {
    std::unique_ptr<Process> pull = tomas_.Begin({"sync"});
    std::this_thread::sleep_for(std::chrono::milliseconds(milliseconds));
    pull->Signal(SIGKILL);
    pull->Wait();
  }
  tomas_.Do({"sync"});
  EXPECT_EQ(ArrivalsOf(tomas_), ArrivalsOf(mira_));
  ExpectSameAndSound();
}

TEST_F(Faults, KeepWhatWasRecordedWhileTheServerIsAway) {
  server_.Kill();
  mira_.Do({"animal", "add", "rosa", "--group", "hamorii-colima"});
  const Outcome away = mira_.Try({"sync"});
  EXPECT_EQ(away.code, 6);
  EXPECT_NE(away.err.find("kept"), std::string::npos) << away.err;
  server_.Start();
  mira_.Do({"sync"});
  EXPECT_EQ(UndeliveredOf(mira_), 0U);
}

TEST_F(Faults, ReachAFollowerLive) {
  std::unique_ptr<Process> follower = tomas_.Begin({"sync", "--follow"});
  ASSERT_TRUE(Eventually([&] { return follower->err().find("Following") != std::string::npos; }));
  mira_.Do({"animal", "add", "rosa", "--group", "hamorii-colima"});
  mira_.Do({"sync"});
  EXPECT_TRUE(Eventually([&] { return follower->out().find("rosa") != std::string::npos; }))
      << follower->out() << follower->err();
  follower->Signal(SIGINT);
  const Outcome ended = follower->Wait();
  EXPECT_TRUE(ended.code == 0 || ended.code == 130) << ended.code << ended.err;
}

TEST_F(Faults, NameTheProcessThatHoldsAReplica) {
  std::unique_ptr<Process> follower = mira_.Begin({"sync", "--follow"});
  ASSERT_TRUE(Eventually([&] { return follower->err().find("Following") != std::string::npos; }));
  const Outcome busy = mira_.Try({"animal", "add", "rosa", "--group", "hamorii-colima"});
  EXPECT_EQ(busy.code, 7);
  EXPECT_NE(busy.err.find("process"), std::string::npos) << busy.err;
  mira_.Do({"group", "list"});  // reading goes on beside it
}

TEST_F(Faults, StopTheServerCleanlyWhileAKeeperFollowsWhoWaitsForItsReturn) {
  std::unique_ptr<Process> follower = mira_.Begin({"sync", "--follow"});
  ASSERT_TRUE(Eventually([&] { return follower->err().find("Following") != std::string::npos; }));
  EXPECT_EQ(server_.Stop(), 0);
  ASSERT_TRUE(
      Eventually([&] { return follower->err().find("trying again") != std::string::npos; }));
  std::this_thread::sleep_for(std::chrono::milliseconds(2'500));
  server_.Start();
  tomas_.Do({"animal", "add", "rosa", "--group", "hamorii-colima"});
  tomas_.Do({"sync"});
  EXPECT_TRUE(Eventually([&] { return follower->out().find("rosa") != std::string::npos; }))
      << follower->out() << follower->err();
  follower->Signal(SIGTERM);
  const Outcome ended = follower->Wait();
  EXPECT_EQ(ended.code, 0) << ended.err;
  EXPECT_EQ(ended.err.find("trying again"), ended.err.rfind("trying again")) << "one note";
}

TEST_F(Faults, EndAFollowerWhoseServerIsNotThereAtFirst) {
  server_.Kill();
  EXPECT_EQ(mira_.Try({"sync", "--follow"}).code, 6);
}

TEST_F(Faults, EndAFollowerThatWaitsForTheServerWhenItIsTold) {
  std::unique_ptr<Process> follower = mira_.Begin({"sync", "--follow"});
  ASSERT_TRUE(Eventually([&] { return follower->err().find("Following") != std::string::npos; }));
  server_.Kill();
  ASSERT_TRUE(
      Eventually([&] { return follower->err().find("trying again") != std::string::npos; }));
  follower->Signal(SIGINT);
  EXPECT_EQ(follower->Wait().code, 0);
}

TEST_F(Faults, OfADatabaseThatWasLostWithTheKeysKeptSayWhatToDo) {
  for (const auto& entry : std::filesystem::directory_iterator(mira_.home() / "replica")) {
    std::filesystem::remove_all(entry.path());
  }
  for (const std::vector<std::string>& words :
       std::vector<std::vector<std::string>>{{"sync"}, {"join", "-"}, {"found", "again"}}) {
    const Outcome outcome = mira_.Try(words, Invitation());
    EXPECT_NE(outcome.err.find("broodpact device invite"), std::string::npos) << outcome.err;
  }
}

}  // namespace
}  // namespace broodpact::e2e
