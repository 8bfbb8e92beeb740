// Goal: a standing search tells what fits it, at a sync and to one who follows. Method: two keepers
// as processes and a server.

#include <csignal>

#include "tests/e2e/two_keepers.h"

namespace broodpact::e2e {
namespace {

class Wants : public TwoKeepers {
 protected:
  void SetUp() override {
    TwoKeepers::SetUp();
    tomas_.Do({"want", "add", "hamorii-colima", "--what", "male"});
  }

  void MiraEntersAMale(const std::string& name) {
    mira_.Do({"animal", "add", name, "--group", "hamorii-colima", "--sex", "male", "--mature",
              "2026-10-02"});
    mira_.Do({"sync"});
  }
};

TEST_F(Wants, AreToldToAFollowerWhenSomethingFits) {
  std::unique_ptr<Process> follower = tomas_.Begin({"sync", "--follow"});
  ASSERT_TRUE(Eventually([&] { return follower->err().find("Following") != std::string::npos; }));
  EXPECT_EQ(follower->out().find("fits\t"), std::string::npos) << follower->out();
  MiraEntersAMale("bruno");
  EXPECT_TRUE(Eventually([&] {
    return follower->out().find("fits\tbruno of mira") != std::string::npos;
  })) << follower->out()
      << follower->err();
  // What was told is not told again.
  mira_.Do({"animal", "add", "rosa", "--group", "hamorii-colima"});
  mira_.Do({"sync"});
  EXPECT_TRUE(Eventually([&] { return follower->out().find("rosa") != std::string::npos; }));
  const std::string told = follower->out();
  EXPECT_EQ(told.find("fits\t", told.find("fits\t") + 1), std::string::npos) << told;
  follower->Signal(SIGINT);
  follower->Wait();
}

TEST_F(Wants, AreToldAtTheNextSyncWhenSomethingFits) {
  MiraEntersAMale("bruno");
  EXPECT_NE(tomas_.Try({"sync"}).err.find("bruno of mira"), std::string::npos);
  EXPECT_EQ(tomas_.Try({"sync"}).err.find("bruno of mira"), std::string::npos);
}

TEST_F(Wants, ThatWaitAreNotToldWhatFittedBefore) {
  tomas_.Do({"animal", "add", "kastor", "--group", "hamorii-colima", "--sex", "male", "--mature",
             "2026-10-02"});
  tomas_.Do({"sync"});
  mira_.Do({"sync"});
  mira_.Do({"want", "add", "hamorii-colima", "--what", "male"});
  EXPECT_EQ(mira_.Try({"sync"}).err.find("kastor of tomas"), std::string::npos);
}

}  // namespace
}  // namespace broodpact::e2e
