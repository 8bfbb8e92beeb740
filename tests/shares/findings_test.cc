// Goal: what contradicts, is missing or can never be reached in terms is named in one sentence
// before anybody signs, and good terms are left alone. Method: an example for each finding, and a
// law that any terms can be read.

#include "client/shares/findings.h"

#include <algorithm>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "tests/shares/any_terms.h"

namespace broodpact::shares {
namespace {

using ::testing::Contains;
using ::testing::ElementsAre;
using ::testing::IsEmpty;

using Texts = std::vector<std::string>;

const Texts kNames = {"mira", "tomas", "bela"};

Texts Of(const facts::Terms& terms, Severity severity, std::optional<Day> return_day = {}) {
  Texts names = kNames;
  names.resize(terms.parties.size());
  Texts texts;
  for (const Remark& remark : FindingsOf(terms, return_day, names)) {
    if (remark.severity == severity) texts.push_back(remark.text);
  }
  return texts;
}

Texts Wrong(const facts::Terms& terms) {
  return Of(terms, Severity::kWrong);
}
Texts LookAt(const facts::Terms& terms) {
  return Of(terms, Severity::kLookAt);
}

RC_GTEST_PROP(Findings, AreTheGravestFirstWhateverTheTerms, ()) {
  const facts::Terms terms = *AnyTerms();
  const Texts names(terms.parties.size(), "iva");
  const auto findings = FindingsOf(terms, std::nullopt, names);
  RC_ASSERT(std::ranges::is_sorted(findings, {}, &Remark::severity));
  RC_ASSERT(findings == FindingsOf(terms, std::nullopt, names));
}

TEST(Findings, AreNoneForTermsThatSayEverything) {
  facts::Terms terms = SharedBy({1, 1});
  terms.counting.stage = 2;
  terms.small_clutch = {.below = 8, .party = 1};
  terms.loss_bearer = facts::LossBearer::kShared;
  terms.failure.no_sac = facts::FailureRule::kRepeat;
  EXPECT_THAT(FindingsOf(terms, Day{20'000}, {"mira", "tomas"}), IsEmpty());
}

TEST(Findings, SayInOneNoteWhatIsNotSaid) {
  EXPECT_THAT(Of(SharedBy({1, 1}), Severity::kNote),
              ElementsAre("Not said, so that the usual holds: the stage at which slings are "
                          "counted, what a small clutch does, when the animal is due back, who "
                          "bears losses before the handover and what follows if no sac comes."));
}

TEST(Findings, NamePercentagesThatAddUpToMoreThanAHundred) {
  facts::Terms terms = SharedBy({1, 1});
  terms.prior_claims = {PartOfRest(0, 6'000), PartOfRest(1, 4'050)};
  EXPECT_THAT(Wrong(terms),
              ElementsAre("The claims add up to 100.5 %: each is of what those before "
                          "it left, so nobody gets his per cent of the clutch."));
}

TEST(Findings, NameWhatCanNeverBeReached) {
  facts::Terms terms = SharedBy({1, 1});
  terms.prior_claims = {PartOfRest(0, 10'000), FirstSlings(1, 5)};
  EXPECT_THAT(Wrong(terms),
              ElementsAre("The second claim (tomas) can never be reached: one before it takes all.",
                          "The shares can never be reached: a claim before them takes all."));
  terms = SharedBy({1, 1});
  terms.coverage.sacs = 1;
  terms.later_shares = {{.first_sac = 2, .shares = terms.shares}};
  EXPECT_THAT(Wrong(terms), ElementsAre("The shares from sac number 2 on can never be reached: one "
                                        "sac is covered."));
}

TEST(Findings, NameACapBelowAMinimumOrAnAmount) {
  facts::Terms terms = SharedBy({1, 1});
  terms.prior_claims = {PartOfRest(0, 500), FirstSlings(1, 10)};
  terms.prior_claims[0].slings_min = 8;
  terms.prior_claims[0].slings_max = 5;
  terms.prior_claims[1].slings_max = 3;
  EXPECT_THAT(
      Wrong(terms),
      ElementsAre(
          "The first claim (mira) is for at least 8 and at most 5: the cap is below the minimum.",
          "The second claim (tomas) is for 10 slings and at most 3: the cap is below the amount."));
}

TEST(Findings, NameAConditionThatNoCountMeetsOrThatEveryCountMeets) {
  facts::Terms terms = SharedBy({1, 1});
  terms.prior_claims = {FirstSlings(0, 5)};
  terms.prior_claims[0].slings_counted_min = 9'000;
  EXPECT_THAT(Wrong(terms), ElementsAre("The first claim (mira) asks for 9000 slings counted: no "
                                        "clutch is known to be so large."));
  terms.prior_claims[0].slings_counted_min = 10;
  terms.small_clutch = {.below = 20, .party = 1};
  EXPECT_THAT(Of(terms, Severity::kNote),
              Contains("The first claim (mira) asks for 10 slings counted, which is always so: a "
                       "smaller clutch goes whole to tomas."));
}

TEST(Findings, NameASmallClutchRuleThatSwallowsAll) {
  facts::Terms terms = SharedBy({1, 1});
  terms.small_clutch = {.below = 5'000, .party = 0};
  EXPECT_THAT(Wrong(terms), ElementsAre("Every clutch goes whole to mira: none is known to have "
                                        "5000 slings or more, so nothing else applies."));
}

TEST(Findings, NameAPartyThatGetsNothing) {
  facts::Terms terms = SharedBy({1, 1, 1});
  terms.shares.pop_back();
  EXPECT_THAT(LookAt(terms),
              ElementsAre("bela signs and gets nothing: no claim and no share is his."));
}

TEST(Findings, NameWhoStandsOutsideAndWhoJudgesHimself) {
  facts::Terms terms = SharedBy({1, 1});
  terms.counting.witness = Keeper(9);
  terms.arbiter = Keeper(1);
  EXPECT_THAT(
      LookAt(terms),
      ElementsAre("The witness is no party: he does not sign these terms, and is bound to nothing.",
                  "Who decides where the parties disagree is a party himself."));
  terms.counting.counter = Keeper(9);
  EXPECT_THAT(Wrong(terms), ElementsAre("Who counts is his own witness."));
}

TEST(Findings, NameAnEndOfCoverageBeforeTheReturn) {
  facts::Terms terms = SharedBy({1, 1});
  terms.coverage.until_day = Day{20'000};
  EXPECT_THAT(Of(terms, Severity::kLookAt, Day{20'010}).size(), 1U);
  EXPECT_THAT(Of(terms, Severity::kLookAt, Day{20'000}), IsEmpty());
}

TEST(Findings, NameRulesThatHaveNothingToRule) {
  facts::Terms terms = SharedBy({1, 1});
  terms.apportioning = {.method = facts::Method::kAdams, .carry = facts::Carry::kQuota};
  EXPECT_THAT(Wrong(terms), ElementsAre("Remainders carry over by the quota method of Balinski and "
                                        "Young, so Adams's method has no effect."));
  terms = SharedBy({1, 1});
  terms.apportioning.sires = facts::SireRule::kEqual;
  terms.dead_arrivals.replace_days = 14;
  terms.failure.no_sac_days = 200;
  EXPECT_EQ(LookAt(terms).size(), 3U);
  terms = SharedBy({1, 1});
  terms.risk.yield = facts::RiskYield::kRemarks;
  EXPECT_EQ(Wrong(terms).size(), 2U);
}

}  // namespace
}  // namespace broodpact::shares
