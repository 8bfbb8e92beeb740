// Goal: parties sign what they can read, and nothing else. Method: a law for the way there and
// back, and an agreement of three parties, spoilt in one clause at a time.

#include <functional>
#include <string>
#include <utility>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "broodpact/v1/terms.pb.h"
#include "client/base/status.h"
#include "client/facts/terms.h"
#include "tests/facts/any_statement.h"

namespace broodpact::facts {
namespace {

using ::testing::HasSubstr;

KeeperId Keeper(std::uint8_t number) {
  KeeperId keeper;
  keeper.bytes.back() = number;
  return keeper;
}

// Lender 1, borrower 2 and raiser 3 share 2 : 2 : 1, after one claim.
Agreement Good() {
  Agreement agreement = {.lender = Keeper(1), .borrower = Keeper(2)};
  agreement.loan.bytes.fill(1);
  agreement.animal.bytes.fill(2);
  agreement.cooperative.fill(3);
  agreement.terms.parties = {{.keeper = Keeper(1), .role = PartyRole::kMaleOwner},
                             {.keeper = Keeper(2), .role = PartyRole::kFemaleOwner},
                             {.keeper = Keeper(3), .role = PartyRole::kRaiser}};
  agreement.terms.prior_claims = {{.party = 2, .amount = 10}};
  agreement.terms.shares = {
      {.party = 0, .weight = 2}, {.party = 1, .weight = 2}, {.party = 2, .weight = 1}};
  return agreement;
}

std::string ReasonOfParse(const std::string& bytes) {
  return ReasonOf(ParseAgreement(bytes).status());
}

// The reason why Good() is refused once `spoil` has been at it.
std::string ReasonAfter(const std::function<void(Agreement&)>& spoil) {
  Agreement agreement = Good();
  spoil(agreement);
  return ReasonOfParse(BuildAgreement(agreement));
}

// The same, for its message.
std::string ReasonAfterMessage(const std::function<void(v1::Agreement&)>& spoil) {
  v1::Agreement message;
  EXPECT_TRUE(message.ParseFromString(BuildAgreement(Good())));
  spoil(message);
  return ReasonOfParse(message.SerializeAsString());
}

RC_GTEST_PROP(Agreement, ReadsBackAsItWasBuilt, ()) {
  const Agreement agreement = *AnyAgreement();
  const auto read = ParseAgreement(BuildAgreement(agreement));
  RC_ASSERT(read.ok());
  RC_ASSERT(*read == agreement);
}

RC_GTEST_PROP(Agreement, SpoiltAnywhereIsReadOrRefusedWithAReason, ()) {
  std::string bytes = BuildAgreement(*AnyAgreement());
  bytes[*rc::gen::inRange<std::size_t>(0, bytes.size())] =
      *rc::gen::element('\0', '\1', '\x12', '\x7f', '\x80', '\xff');
  const auto read = ParseAgreement(bytes);
  RC_ASSERT(read.ok() || !ReasonOf(read.status()).empty());
}

TEST(Agreement, IsGoodHere) {
  EXPECT_EQ(ReasonAfter([](Agreement&) {}), "");
}

TEST(Agreement, IsBoundedAndAMessage) {
  EXPECT_EQ(ReasonOfParse(std::string(kAgreementBytesMax + 1, 'x')), "AGREEMENT_FORM");
  EXPECT_EQ(ReasonOfParse("no agreement"), "AGREEMENT_FORM");
  EXPECT_EQ(ReasonOfParse(""), "AGREEMENT_FORM");
}

TEST(Agreement, NamesWhatItIsAbout) {
  for (const auto& spoil : std::vector<std::function<void(v1::Agreement&)>>{
           [](v1::Agreement& a) { a.clear_loan_id(); },
           [](v1::Agreement& a) { a.set_loan_id(std::string(16, '\0')); },
           [](v1::Agreement& a) { a.set_cooperative_id("short"); },
           [](v1::Agreement& a) { a.clear_animal_id(); },
           [](v1::Agreement& a) { a.clear_lender_id(); },
           [](v1::Agreement& a) { a.set_borrower_id(std::string(17, 'x')); },
           [](v1::Agreement& a) { a.mutable_terms()->mutable_parties(1)->clear_keeper_id(); }}) {
    EXPECT_EQ(ReasonAfterMessage(spoil), "AGREEMENT_FORM");
  }
}

// A clause that this version cannot read could say anything.
TEST(Agreement, HasNoClauseThatThisVersionDoesNotKnowAtAnyDepth) {
  const auto add = [](google::protobuf::Message& message) {
    message.GetReflection()->MutableUnknownFields(&message)->AddVarint(99, 1);
  };
  for (const auto& spoil : std::vector<std::function<void(v1::Agreement&)>>{
           [&](v1::Agreement& a) { add(a); }, [&](v1::Agreement& a) { add(*a.mutable_terms()); },
           [&](v1::Agreement& a) { add(*a.mutable_terms()->mutable_parties(2)); },
           [&](v1::Agreement& a) { add(*a.mutable_terms()->mutable_prior_claims(0)); },
           [&](v1::Agreement& a) { add(*a.mutable_terms()->mutable_shares(1)); },
           [](v1::Agreement& a) {
             a.mutable_terms()->set_method(static_cast<v1::ApportionmentMethod>(6));
           },
           [](v1::Agreement& a) {
             a.mutable_terms()->set_loss_bearer(static_cast<v1::LossBearer>(4));
           },
           [](v1::Agreement& a) { a.mutable_terms()->set_male_risk(static_cast<v1::MaleRisk>(3)); },
           [](v1::Agreement& a) {
             a.mutable_terms()->set_carriage_payer(static_cast<v1::CarriagePayer>(-1));
           },
           [](v1::Agreement& a) {
             a.mutable_terms()->mutable_parties(0)->set_role(static_cast<v1::PartyRole>(6));
           },
           [](v1::Agreement& a) { a.mutable_terms()->set_small_clutch_party(1); }}) {
    EXPECT_EQ(ReasonAfterMessage(spoil), "AGREEMENT_FORM");
  }
}

TEST(Agreement, MayNameTheMethodOrLeaveItOut) {
  EXPECT_EQ(ReasonAfterMessage([](v1::Agreement& a) {
              a.mutable_terms()->set_method(v1::APPORTIONMENT_METHOD_LARGEST_REMAINDER);
            }),
            "");
}

TEST(Agreement, IsBetweenLenderAndBorrowerEachOnceAParty) {
  EXPECT_EQ(ReasonAfterMessage([](v1::Agreement& a) { a.clear_terms(); }), "NO_PARTIES");
  EXPECT_EQ(ReasonAfter([](Agreement& a) {
              for (std::uint8_t i = 4; i < 18; ++i) {
                a.terms.parties.push_back({.keeper = Keeper(i)});
              }
            }),
            "TOO_MANY_PARTIES");
  EXPECT_EQ(ReasonAfter([](Agreement& a) { a.terms.parties[2].keeper = Keeper(1); }),
            "PARTY_TWICE");
  EXPECT_EQ(ReasonAfter([](Agreement& a) { a.lender = Keeper(9); }), "PARTY_MISSING");
  EXPECT_EQ(ReasonAfter([](Agreement& a) { a.borrower = Keeper(9); }), "PARTY_MISSING");
  EXPECT_EQ(ReasonAfter([](Agreement& a) { a.borrower = a.lender; }), "LENDER_IS_BORROWER");
}

TEST(Agreement, RefersToItsPartiesAlone) {
  EXPECT_EQ(ReasonAfter([](Agreement& a) { a.terms.shares[0].party = 3; }), "UNKNOWN_PARTY");
  EXPECT_EQ(ReasonAfter([](Agreement& a) { a.terms.prior_claims[0].party = 3; }), "UNKNOWN_PARTY");
  EXPECT_EQ(
      ReasonAfter([](Agreement& a) { a.terms.small_clutch = {.below = 20, .party = UINT32_MAX}; }),
      "UNKNOWN_PARTY");
}

TEST(Agreement, HasClaimsWithinTheirBounds) {
  for (const PriorClaim& claim :
       std::vector<PriorClaim>{{.kind = ClaimKind::kSlings, .amount = 0},
                               {.kind = ClaimKind::kSlings, .amount = kSlingsMax + 1},
                               {.kind = ClaimKind::kBasisPoints, .amount = 0},
                               {.kind = ClaimKind::kBasisPoints, .amount = kBasisPointsMax + 1},
                               {.amount = 1, .slings_counted_min = kSlingsMax + 1},
                               {.amount = 1, .slings_max = kSlingsMax + 1}}) {
    EXPECT_EQ(ReasonAfter([&claim](Agreement& a) { a.terms.prior_claims = {claim}; }),
              "CLAIM_OUT_OF_RANGE");
  }
  EXPECT_EQ(ReasonAfterMessage([](v1::Agreement& a) {
              a.mutable_terms()->mutable_prior_claims(0)->clear_amount();
            }),
            "CLAIM_OUT_OF_RANGE");
  EXPECT_EQ(ReasonAfter([](Agreement& a) {
              a.terms.prior_claims.assign(kClaimsMax + 1, {.party = 0, .amount = 1});
            }),
            "CLAIM_OUT_OF_RANGE");
  EXPECT_EQ(ReasonAfter(
                [](Agreement& a) { a.terms.small_clutch = {.below = kSlingsMax + 1, .party = 0}; }),
            "CLAIM_OUT_OF_RANGE");
}

TEST(Agreement, SaysWhoGetsTheRest) {
  const auto only_claim = [](const PriorClaim& claim) {
    return ReasonAfter([&claim](Agreement& a) {
      a.terms.prior_claims = {claim};
      a.terms.shares.clear();
    });
  };
  const PriorClaim all = {.kind = ClaimKind::kBasisPoints, .amount = kBasisPointsMax};
  EXPECT_EQ(only_claim(all), "");
  PriorClaim most = all;
  most.amount = kBasisPointsMax - 1;
  EXPECT_EQ(only_claim(most), "NO_SHARES");
  PriorClaim capped = all;
  capped.slings_max = 500;
  EXPECT_EQ(only_claim(capped), "NO_SHARES");
  PriorClaim conditional = all;
  conditional.slings_counted_min = 50;
  EXPECT_EQ(only_claim(conditional), "NO_SHARES");
}

TEST(Agreement, HasSharesOncePartyAndWithinTheirBounds) {
  EXPECT_EQ(ReasonAfter([](Agreement& a) { a.terms.shares[1].party = 0; }), "SHARE_TWICE");
  EXPECT_EQ(ReasonAfter([](Agreement& a) { a.terms.shares[1].weight = 0; }), "WEIGHT_OUT_OF_RANGE");
  EXPECT_EQ(ReasonAfter([](Agreement& a) { a.terms.shares[1].weight = kWeightMax; }), "");
  EXPECT_EQ(ReasonAfter([](Agreement& a) { a.terms.shares[1].weight = kWeightMax + 1; }),
            "WEIGHT_OUT_OF_RANGE");
}

TEST(Agreement, CarriesRemaindersOverOnlyWhereNoShareIsTooSmall) {
  const auto carried = [](std::uint32_t weight) {
    return ReasonAfter([weight](Agreement& a) {
      a.terms.apportioning.carry = Carry::kQuota;
      a.terms.shares = {{.party = 0, .weight = weight}, {.party = 1, .weight = 1}};
    });
  };
  EXPECT_EQ(carried(kCarryRatioMax - 1), "");
  EXPECT_EQ(carried(kCarryRatioMax), "CARRY_TOO_FINE");
  EXPECT_EQ(ReasonAfter([](Agreement& a) {
              a.terms.apportioning.carry = Carry::kChairman;
              a.terms.later_shares = {
                  {.first_sac = 2,
                   .shares = {{.party = 0, .weight = kWeightMax}, {.party = 1, .weight = 1}}}};
            }),
            "CARRY_TOO_FINE");
}

TEST(Agreement, HasOtherClausesWithinTheirBounds) {
  for (const auto& spoil : std::vector<std::function<void(Agreement&)>>{
           [](Agreement& a) { a.terms.coverage.females.resize(kFemalesMax + 1, {{1}}); },
           [](Agreement& a) { a.terms.giving_back.pairings_max = kClauseNumberMax + 1; },
           [](Agreement& a) { a.terms.dead_arrivals.report_hours = kClauseNumberMax + 1; },
           [](Agreement& a) { a.terms.dead_arrivals.replace_days = kClauseNumberMax + 1; },
           [](Agreement& a) { a.terms.failure.no_sac_days = kNoSacDaysMax + 1; },
           [](Agreement& a) { a.terms.risk.yield = RiskYield::kSlings; },
           [](Agreement& a) { a.terms.risk.yield_slings = 5; },
           [](Agreement& a) {
             a.terms.later_shares = {{.first_sac = 1, .shares = {{0, 1}}}};
           },
           [](Agreement& a) { a.terms.later_shares = {{.first_sac = 2, .shares = {}}}; },
           [](Agreement& a) {
             a.terms.later_shares.assign(2, {.first_sac = 3, .shares = {{0, 1}}});
           }}) {
    EXPECT_EQ(ReasonAfter(spoil), "CLAUSE_OUT_OF_RANGE");
  }
  EXPECT_EQ(ReasonAfter([](Agreement& a) { a.terms.prior_claims[0].sacs_max = kSacsMax + 1; }),
            "CLAIM_OUT_OF_RANGE");
  EXPECT_EQ(ReasonAfter([](Agreement& a) { a.terms.coverage.until_day = Day{INT32_MAX}; }),
            "DATE_OUT_OF_RANGE");
}

RC_GTEST_PROP(FormTerms, ReadBackAsTheyWereBuilt, ()) {
  const Terms terms = *AnyFormTerms();
  const auto read = ParseFormTerms(BuildFormTerms(terms));
  RC_ASSERT(read.ok());
  RC_ASSERT(*read == terms);
}

TEST(FormTerms, NameEachRoleOnceAndNoKeeper) {
  const auto reason = [](const std::function<void(Terms&)>& spoil) {
    Terms terms = Good().terms;
    for (Party& party : terms.parties) party.keeper = {};
    spoil(terms);
    return ReasonOf(ParseFormTerms(BuildFormTerms(terms)).status());
  };
  EXPECT_EQ(reason([](Terms&) {}), "");
  EXPECT_EQ(reason([](Terms& t) { t.parties[1].keeper = Keeper(1); }), "AGREEMENT_FORM");
  EXPECT_EQ(reason([](Terms& t) { t.parties[1].role = PartyRole::kUnspecified; }), "ROLE_MISSING");
  EXPECT_EQ(reason([](Terms& t) { t.parties[1].role = PartyRole::kMaleOwner; }), "ROLE_TWICE");
  EXPECT_EQ(reason([](Terms& t) { t.shares[0].party = 7; }), "UNKNOWN_PARTY");
  EXPECT_EQ(reason([](Terms& t) { t.parties.clear(); }), "NO_PARTIES");
}

TEST(Agreement, HasAReturnDayInTheCalendarAndReadableRemarks) {
  EXPECT_EQ(ReasonAfter([](Agreement& a) { a.return_day = Day{kDayMax.number + 1}; }),
            "DATE_OUT_OF_RANGE");
  EXPECT_EQ(ReasonAfter([](Agreement& a) { a.return_day = Day{INT32_MIN}; }), "DATE_OUT_OF_RANGE");
  EXPECT_EQ(ReasonAfter([](Agreement& a) { a.terms.remarks = std::string(1024, 'x'); }), "");
  EXPECT_EQ(ReasonAfter([](Agreement& a) { a.terms.remarks = std::string(1025, 'x'); }),
            "NAME_TOO_LONG");
  EXPECT_EQ(ReasonAfter([](Agreement& a) { a.terms.remarks = "\x1b[1m"; }), "TEXT_MALFORMED");
}

TEST(Agreement, SaysWhereItsTextIsNotUtf8) {
  Agreement agreement = Good();
  agreement.terms.remarks = "no refunds";
  std::string bytes = BuildAgreement(agreement);
  bytes.replace(bytes.find("no refunds"), 10, "no refund\xff");
  const absl::Status status = ParseAgreement(bytes).status();
  EXPECT_EQ(ReasonOf(status), "TEXT_MALFORMED");
  EXPECT_THAT(std::string(status.message()), HasSubstr("terms, remarks"));
}

}  // namespace
}  // namespace broodpact::facts
