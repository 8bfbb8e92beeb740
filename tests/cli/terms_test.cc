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

TermsParties Parties() {
  return {.lender = kTomas,
          .borrower = kMira,
          .lender_role = kMaleOwner,
          .borrower_role = kFemaleOwner};
}

TermsLookup Lookup() {
  return {.keeper = Find,
          .female = [](std::string_view) { return AnimalId{{7}}; },
          .day = [](std::string_view) { return Day{20'000}; }};
}

absl::StatusOr<facts::Terms> ParseAll(const TermsOptions& options) {
  return ParseTerms(options, Parties(), Lookup());
}

absl::StatusOr<facts::Terms> Parse(const SlingOptions& options) {
  return ParseAll({.slings = options});
}

std::string ReasonOfTerms(const SlingOptions& options) {
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
  const absl::StatusOr<facts::Terms> terms =
      ParseAll({.slings = {.roles = {"bela=raiser", "mira=cooperative"},
                           .method = "dhondt",
                           .carry = "chairman",
                           .sires = "pairings"},
                .sac = {.females = {"rosa"},
                        .sacs = 1,
                        .until = "2024-10-04",
                        .counting_stage = 2,
                        .counter = "mira",
                        .witness = "bela",
                        .no_sac = "repeat",
                        .infertile = "next-sac",
                        .no_sac_days = 365},
                .care = {.losses = "shared",
                         .male_risk = "borrower",
                         .risk_on_way = "lender",
                         .death_owes = "5",
                         .pairings = 3,
                         .lending_on = "ask",
                         .carriage = "lender",
                         .carriage_slings = "receiver",
                         .dead_report = 24,
                         .dead_replace = 14,
                         .arbiter = "bela",
                         .remarks = "by train only"}});
  ASSERT_TRUE(terms.ok()) << terms.status();
  EXPECT_EQ(terms->parties[1].role, facts::PartyRole::kCooperative);
  EXPECT_EQ(terms->parties[2].role, facts::PartyRole::kRaiser);
  EXPECT_EQ(terms->apportioning, (facts::Apportioning{.method = facts::Method::kDHondt,
                                                      .carry = facts::Carry::kChairman,
                                                      .sires = facts::SireRule::kPairings}));
  EXPECT_EQ(terms->coverage,
            (facts::Coverage{.females = {AnimalId{{7}}}, .sacs = 1, .until_day = Day{20'000}}));
  EXPECT_EQ(terms->counting, (facts::Counting{.stage = 2, .counter = kMira, .witness = kBela}));
  EXPECT_EQ(terms->failure, (facts::FailureClause{.no_sac = facts::FailureRule::kRepeat,
                                                  .infertile_sac = facts::FailureRule::kNextSac,
                                                  .no_sac_days = 365}));
  EXPECT_EQ(terms->loss_bearer, facts::LossBearer::kShared);
  EXPECT_EQ(terms->risk, (facts::RiskClause{.bearer = facts::MaleRisk::kBorrower,
                                            .in_transit = facts::MaleRisk::kLender,
                                            .yield = facts::RiskYield::kSlings,
                                            .yield_slings = 5}));
  EXPECT_EQ(terms->giving_back,
            (facts::ReturnClause{.pairings_max = 3, .lending_on = facts::LendingOn::kConsent}));
  EXPECT_EQ(terms->carriage, (facts::CarriageClause{.payer = facts::CarriagePayer::kLender,
                                                    .slings = facts::CarriagePayer::kReceiver}));
  EXPECT_EQ(terms->dead_arrivals, (facts::DeadArrivals{.report_hours = 24, .replace_days = 14}));
  EXPECT_EQ(terms->arbiter, kBela);
  EXPECT_EQ(terms->remarks, "by train only");
}

TEST(TermsText, ReadFloorsAndSacsOfClaims) {
  const absl::StatusOr<facts::Terms> terms =
      Parse({.firsts = {"bela=10..5%..50@40#1", "tomas=8#2", "mira=10..5%"}});
  ASSERT_TRUE(terms.ok()) << terms.status();
  using enum facts::ClaimKind;
  EXPECT_THAT(terms->prior_claims,
              ElementsAre(facts::PriorClaim{2, kBasisPoints, 500, 40, 50, 10, 1},
                          facts::PriorClaim{0, kSlings, 8, 0, 0, 0, 2},
                          facts::PriorClaim{1, kBasisPoints, 500, 0, 0, 10, 0}));
}

TEST(TermsText, ReadSharesOfLaterSacsInTheOrderOfTheSacs) {
  const absl::StatusOr<facts::Terms> terms =
      Parse({.later_shares = {"3:mira=1", "2:tomas=1", "2:mira=3"}});
  ASSERT_TRUE(terms.ok()) << terms.status();
  EXPECT_THAT(terms->later_shares,
              ElementsAre(facts::LaterShares{2, {facts::RatioShare{0, 1}, facts::RatioShare{1, 3}}},
                          facts::LaterShares{3, {facts::RatioShare{1, 1}}}));
}

// "usual": 10 per cent to the cooperative, the rest alike; a raiser is named and gets 4 first.
facts::Terms Usual() {
  const absl::StatusOr<facts::Terms> terms =
      ParseFormOptions({.slings = {.firsts = {"cooperative=10%", "raiser=4"},
                                   .shares = {"female-owner=1", "male-owner=1"},
                                   .carry = "quota"}},
                       Lookup());
  EXPECT_TRUE(terms.ok()) << terms.status();
  return terms.value_or(facts::Terms());
}

TEST(FormText, NamesRolesInPlaceOfKeepers) {
  const facts::Terms terms = Usual();
  ASSERT_EQ(terms.parties.size(), 4U);
  EXPECT_EQ(terms.parties[2], (facts::Party{.keeper = {}, .role = facts::PartyRole::kCooperative}));
  EXPECT_EQ(terms.prior_claims[1].party, 3U);
  EXPECT_EQ(ReasonOf(ParseFormOptions({.slings = {.shares = {"mira=1"}}}, Lookup()).status()),
            "TERMS_SYNTAX");
}

TEST(FormText, IsFilledWithLenderBorrowerAndWhoHasARole) {
  const facts::Terms form = Usual();
  TermsOptions options;
  options.slings.roles = {"bela=raiser"};
  EXPECT_EQ(ReasonOf(ParseTerms(options, Parties(), Lookup(), &form).status()),
            "FORM_ROLE_MISSING");
  options.slings.roles = {"mira=cooperative", "bela=raiser"};
  EXPECT_EQ(ReasonOf(ParseTerms(options, Parties(), Lookup(), &form).status()), "FORM_ROLE_MISSING")
      << "mira is no longer the female's owner";
  TermsParties parties = Parties();
  parties.borrower_role = facts::PartyRole::kFemaleOwner;
  options.slings.roles = {"bela=raiser", "iva=cooperative"};
  EXPECT_EQ(ReasonOf(ParseTerms(options, parties, Lookup(), &form).status()), "UNKNOWN_SUBJECT");
}

TEST(FormText, KeepsItsClausesButForWhatTheOptionsSay) {
  facts::Terms form = Usual();
  form.parties.pop_back();
  form.prior_claims.pop_back();
  TermsOptions options;
  options.slings.roles = {"bela=cooperative"};
  absl::StatusOr<facts::Terms> terms = ParseTerms(options, Parties(), Lookup(), &form);
  ASSERT_TRUE(terms.ok()) << terms.status();
  EXPECT_EQ(terms->prior_claims[0].party, 2U);
  EXPECT_EQ(terms->parties[2].keeper, kBela);
  EXPECT_THAT(terms->shares, ElementsAre(facts::RatioShare{1, 1}, facts::RatioShare{0, 1}));
  EXPECT_EQ(terms->apportioning.carry, facts::Carry::kQuota);
  options.slings.shares = {"mira=3", "tomas=1"};
  options.slings.carry = "off";
  terms = ParseTerms(options, Parties(), Lookup(), &form);
  ASSERT_TRUE(terms.ok()) << terms.status();
  EXPECT_THAT(terms->shares, ElementsAre(facts::RatioShare{1, 3}, facts::RatioShare{0, 1}));
  EXPECT_EQ(terms->apportioning.carry, facts::Carry::kOff);
  EXPECT_EQ(terms->prior_claims.size(), 1U);
}

TEST(TermsText, ShowTheFormAfterASlip) {
  for (const char* const text :
       {"mira", "mira=", "=2", "mira=0", "mira=-1", "mira=2x", "mira=1.5"}) {
    EXPECT_EQ(ReasonOfTerms({.shares = {text}}), "TERMS_SYNTAX") << text;
  }
  for (const char* const text :
       {"mira", "mira=", "mira=0", "mira=101%", "mira=1.234%", "mira=.5%", "mira=5%..", "mira=5@",
        "mira=5..0", "mira=5@0", "mira=%", "mira=5@3..2@1", "mira=4294967296", "mira=0..5%",
        "mira=5#0", "mira=5#1@4"}) {
    EXPECT_EQ(ReasonOfTerms({.firsts = {text}}), "TERMS_SYNTAX") << text;
  }
  for (const char* const text : {"mira", "8", "8=", "0=mira", "x=mira"}) {
    EXPECT_EQ(ReasonOfTerms({.small_below = text}), "TERMS_SYNTAX") << text;
  }
  EXPECT_EQ(ReasonOfTerms({.roles = {"mira=boss"}}), "TERMS_SYNTAX");
  for (const char* const text : {"mira=1", "x:mira=1", "2:mira", ":mira=1"}) {
    EXPECT_EQ(ReasonOfTerms({.later_shares = {text}}), "TERMS_SYNTAX") << text;
  }
  EXPECT_EQ(ReasonOf(ParseAll({.care = {.death_owes = "a lot"}}).status()), "TERMS_SYNTAX");
  EXPECT_EQ(Parse({.shares = {"mira"}}).status().message(),
            "'mira' is no share; write KEEPER=WEIGHT, as in mira=2");
}

TEST(TermsText, SayWhoIsNotKnown) {
  EXPECT_EQ(ReasonOfTerms({.shares = {"nobody=1"}}), "UNKNOWN_SUBJECT");
}

}  // namespace
}  // namespace broodpact::cli
