// Goal: what a season's plan proposes becomes loans in one step, and holds what keepers said
// against it. Method: two keepers as processes and a server; the plan is asked for by one of them.

#include "tests/e2e/two_keepers.h"

namespace broodpact::e2e {
namespace {

class Plans : public TwoKeepers {
 protected:
  // Tomas has a mature male, and Mira two females.
  void SetUp() override {
    TwoKeepers::SetUp();
    tomas_.Do({"animal", "add", "bruno", "--group", "hamorii-colima", "--sex", "male", "--mature",
               "2026-10-02"});
    tomas_.Do({"sync"});
    mira_.Do({"sync"});
    for (const char* female : {"rosa", "stella"}) {
      mira_.Do({"animal", "add", female, "--group", "hamorii-colima", "--sex", "female", "--mature",
                "2024-05-01"});
    }
    mira_.Do({"sync"});
    tomas_.Do({"sync"});
  }

  static std::size_t SizeOf(const nlohmann::json& list, const char* name) {
    const auto rows = list.find(name);
    return rows == list.end() ? 0 : rows->size();
  }
};

TEST_F(Plans, BecomeLoansThatTheOtherKeeperSigns) {
  const nlohmann::json plan = tomas_.Ask({"plan", "hamorii-colima"});
  EXPECT_EQ(SizeOf(plan, "pairs"), 2U) << plan;
  tomas_.Do({"plan", "hamorii-colima", "--offer", "--until", "2027-06-01", "--yes"});
  tomas_.Do({"sync"});
  mira_.Do({"sync"});
  const nlohmann::json loans = mira_.Ask({"loan", "list"});
  ASSERT_EQ(SizeOf(loans, "loans"), 1U) << "one journey, though two females wait: " << loans;
  const nlohmann::json& loan = loans["loans"][0];
  EXPECT_EQ(loan["animal"]["name"], "bruno");
  EXPECT_EQ(loan["borrower"]["name"], "mira");
  EXPECT_EQ(loan["return_day"], "2027-06-01");
  mira_.Do({"loan", "accept", loan["id"]});
  mira_.Do({"sync"});
  tomas_.Do({"sync"});
  const nlohmann::json signed_loan = tomas_.Ask({"loan", "show", loan["id"]});
  EXPECT_EQ(signed_loan["signers"].size(), 2U);
  for (const nlohmann::json& signer : signed_loan["signers"]) {
    EXPECT_NE(signer.value("signature_time", ""), "") << signer;
  }
  // What is promised already is not offered a second time.
  const Outcome again = tomas_.Try({"plan", "hamorii-colima", "--offer", "--yes"});
  EXPECT_NE(again.code, 0);
  EXPECT_EQ(SizeOf(tomas_.Ask({"loan", "list"}), "loans"), 1U);
}

TEST_F(Plans, LeaveOutWhatAKeeperVetoed) {
  mira_.Do({"veto", "add", "--animal", "rosa"});
  mira_.Do({"sync"});
  tomas_.Do({"sync"});
  const nlohmann::json plan = tomas_.Ask({"plan", "hamorii-colima"});
  ASSERT_EQ(SizeOf(plan, "pairs"), 1U) << plan;
  EXPECT_EQ(plan["pairs"][0]["female"]["name"], "stella");
}

TEST_F(Plans, SayWhyTheyAreEmptyAndOfferNothing) {
  mira_.Do({"veto", "add", "--with-keeper", "tomas"});
  mira_.Do({"sync"});
  tomas_.Do({"sync"});
  const Outcome planned = tomas_.Try({"plan", "hamorii-colima"});
  EXPECT_EQ(planned.code, 3) << planned.err;
  EXPECT_NE(planned.err.find("of 2 pairs none is left; vetoed or promised elsewhere 2"),
            std::string::npos)
      << planned.err;
  const Outcome offered = tomas_.Try({"plan", "hamorii-colima", "--offer", "--yes"});
  EXPECT_EQ(offered.code, 3) << offered.err;
  EXPECT_NE(offered.err.find("sends no male that is yours"), std::string::npos) << offered.err;
}

}  // namespace
}  // namespace broodpact::e2e
