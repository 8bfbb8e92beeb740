// Goal: terms on a command line mean what the documentation of their form says, and a slip gets
// the form shown. Method: examples of each form; slips of each form; parties in the documented
// order.

#include "cli/terms/terms.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "client/base/status.h"

namespace broodpact::cli {
namespace {

using ::testing::ElementsAre;

KeeperId Keeper(std::uint8_t number) {
  KeeperId id;
  id.bytes[0] = number;
  return id;
}

const KeeperId kMira = Keeper(1);
const KeeperId kTomas = Keeper(2);
const KeeperId kBela = Keeper(3);

absl::StatusOr<KeeperId> Find(std::string_view name) {
  if (name == "mira") return kMira;
  if (name == "tomas") return kTomas;
  if (name == "bela") return kBela;
  return Fail(absl::StatusCode::kNotFound, "UNKNOWN_SUBJECT", "who?");
}

constexpr auto kMaleOwner = facts::PartyRole::kMaleOwner;
constexpr auto kFemaleOwner = facts::PartyRole::kFemaleOwner;

absl::StatusOr<facts::Terms> Parse(const TermsOptions& options) {
  return ParseTerms(options,
                    {.lender = kTomas,
                     .borrower = kMira,
                     .lender_role = kMaleOwner,
                     .borrower_role = kFemaleOwner},
                    Find);
}

std::string ReasonOfTerms(const TermsOptions& options) {
  return ReasonOf(Parse(options).status());
}

TEST(TermsText, AreEqualSharesOfLenderAndBorrowerWhenNothingIsSaid) {
  const absl::StatusOr<facts::Terms> terms = Parse({});
  ASSERT_TRUE(terms.ok());
  EXPECT_THAT(terms->parties,
              ElementsAre(facts::Party{kTomas, kMaleOwner}, facts::Party{kMira, kFemaleOwner}));
  EXPECT_THAT(terms->shares, ElementsAre(facts::RatioShare{0, 1}, facts::RatioShare{1, 1}));
  EXPECT_TRUE(terms->prior_claims.empty());
}

TEST(TermsText, KeepSharesInTheOrderInWhichTheyAreSaid) {
  const absl::StatusOr<facts::Terms> terms = Parse({.shares = {"bela=3", "mira=2", "tomas=1"}});
  ASSERT_TRUE(terms.ok());
  EXPECT_THAT(terms->parties,
              ElementsAre(facts::Party{kTomas, kMaleOwner}, facts::Party{kMira, kFemaleOwner},
                          facts::Party{kBela, facts::PartyRole::kUnspecified}));
  EXPECT_THAT(terms->shares, ElementsAre(facts::RatioShare{2, 3}, facts::RatioShare{1, 2},
                                         facts::RatioShare{0, 1}));
}

TEST(TermsText, ReadClaimsInSlingsAndPerCentWithCapAndCondition) {
  const absl::StatusOr<facts::Terms> terms =
      Parse({.firsts = {"tomas=10", "bela=5%", "bela=12.5%..50", "mira=0.05%@40", "mira=7..3@9"}});
  ASSERT_TRUE(terms.ok()) << terms.status();
  using enum facts::ClaimKind;
  EXPECT_THAT(terms->prior_claims, ElementsAre(facts::PriorClaim{0, kSlings, 10, 0, 0},
                                               facts::PriorClaim{2, kBasisPoints, 500, 0, 0},
                                               facts::PriorClaim{2, kBasisPoints, 1'250, 0, 50},
                                               facts::PriorClaim{1, kBasisPoints, 5, 40, 0},
                                               facts::PriorClaim{1, kSlings, 7, 9, 3}));
}

TEST(TermsText, NamePartiesOfClaimsBeforeThoseOfShares) {
  const absl::StatusOr<facts::Terms> terms =
      Parse({.firsts = {"bela=1"}, .shares = {"mira=1"}, .small_below = "8=mira"});
  ASSERT_TRUE(terms.ok());
  ASSERT_EQ(terms->parties.size(), 3U);
  EXPECT_EQ(terms->parties[2].keeper, kBela);
  EXPECT_EQ(terms->small_clutch, (facts::SmallClutchRule{8, 1}));
}

TEST(TermsText, SetRolesAndWords) {
  const absl::StatusOr<facts::Terms> terms = Parse({.roles = {"bela=raiser", "mira=cooperative"},
                                                    .counting_stage = 2,
                                                    .losses = "shared",
                                                    .sacs = 1,
                                                    .male_risk = "borrower",
                                                    .carriage = "lender",
                                                    .remarks = "by train only"});
  ASSERT_TRUE(terms.ok());
  EXPECT_EQ(terms->parties[1].role, facts::PartyRole::kCooperative);
  EXPECT_EQ(terms->parties[2].role, facts::PartyRole::kRaiser);
  EXPECT_EQ(terms->counting_stage, 2U);
  EXPECT_EQ(terms->loss_bearer, facts::LossBearer::kShared);
  EXPECT_EQ(terms->sacs_covered, 1U);
  EXPECT_EQ(terms->male_risk, facts::MaleRisk::kBorrower);
  EXPECT_EQ(terms->carriage_payer, facts::CarriagePayer::kLender);
  EXPECT_EQ(terms->remarks, "by train only");
}

TEST(TermsText, ShowTheFormAfterASlip) {
  for (const char* const text :
       {"mira", "mira=", "=2", "mira=0", "mira=-1", "mira=2x", "mira=1.5"}) {
    EXPECT_EQ(ReasonOfTerms({.shares = {text}}), "TERMS_SYNTAX") << text;
  }
  for (const char* const text :
       {"mira", "mira=", "mira=0", "mira=101%", "mira=1.234%", "mira=.5%", "mira=5%..", "mira=5@",
        "mira=5..0", "mira=5@0", "mira=%", "mira=5@3..2@1", "mira=4294967296"}) {
    EXPECT_EQ(ReasonOfTerms({.firsts = {text}}), "TERMS_SYNTAX") << text;
  }
  for (const char* const text : {"mira", "8", "8=", "0=mira", "x=mira"}) {
    EXPECT_EQ(ReasonOfTerms({.small_below = text}), "TERMS_SYNTAX") << text;
  }
  EXPECT_EQ(ReasonOfTerms({.roles = {"mira=boss"}}), "TERMS_SYNTAX");
  EXPECT_EQ(Parse({.shares = {"mira"}}).status().message(),
            "'mira' is no share; write KEEPER=WEIGHT, as in mira=2");
}

TEST(TermsText, SayWhoIsNotKnown) {
  EXPECT_EQ(ReasonOfTerms({.shares = {"nobody=1"}}), "UNKNOWN_SUBJECT");
}

}  // namespace
}  // namespace broodpact::cli
