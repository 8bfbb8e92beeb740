// Goal: what a keeper is about to sign reads as plain sentences, each clause there, in the order in
// which they apply. Method: whole agreements and each variant of a clause.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "client/shares/split.h"
#include "tests/shares/any_terms.h"

namespace broodpact::shares {
namespace {

using ::testing::Contains;
using ::testing::ElementsAre;

TEST(Clauses, SayTheWholeOfAnAgreementInOrder) {
  facts::Terms terms = SharedBy({2, 1, 1});
  terms.parties[0].role = facts::PartyRole::kMaleOwner;
  terms.parties[1].role = facts::PartyRole::kFemaleOwner;
  terms.parties[2].role = facts::PartyRole::kCooperative;
  terms.small_clutch = {.below = 20, .party = 1};
  terms.prior_claims = {FirstSlings(1, 10), PartOfRest(2, 750)};
  terms.prior_claims[1].slings_counted_min = 100;
  terms.prior_claims[1].slings_max = 25;
  terms.counting_stage = 2;
  terms.sacs_covered = 2;
  terms.loss_bearer = facts::LossBearer::kShared;
  terms.male_risk = facts::MaleRisk::kBorrower;
  terms.carriage_payer = facts::CarriagePayer::kLender;
  terms.remarks = "Photographs of the slings every month.";
  EXPECT_THAT(
      Clauses(terms, {"mira", "tomas", "bela"}),
      ElementsAre(
          "The parties are mira (owner of the male), tomas (owner of the female) and bela (for the "
          "cooperative).",
          "The first 2 sacs of the pairing are covered, later ones are not.",
          "What is shared is the count after 2 moults since the egg.",
          "A clutch of fewer than 20 slings goes whole to tomas.", "First, tomas gets 10 slings.",
          "Then, bela gets 7.5 % of what is left, at most 25 slings, rounded down, if at least 100 "
          "slings were counted.",
          "The rest is shared 2 : 1 : 1 between mira, tomas and bela. Slings left over go to the "
          "largest parts left over; of equal parts the larger share comes first, then the lower "
          "keeper id.",
          "Slings lost between count and handover are the loss of all parties, by their shares.",
          "The borrower answers for a male that dies on loan.",
          "The lender pays the carriage, both ways.",
          "Remarks: Photographs of the slings every month."));
}

TEST(Clauses, SayWhatHoldsWhereThePaperSaysNothing) {
  EXPECT_THAT(
      Clauses(SharedBy({1, 1}), {"mira", "tomas"}),
      ElementsAre(
          "The parties are mira and tomas.", "Every sac is covered until the female moults.",
          "What is shared is the count that is recorded.",
          "The clutch is shared 1 : 1 between mira and tomas. Slings left over go to the largest "
          "parts left over; of equal parts the larger share comes first, then the lower keeper "
          "id.",
          "Slings lost between count and handover are the loss of the party whose lot they are.",
          "Nothing is owed for a male that dies on loan; he may be eaten.",
          "Whoever sends pays the carriage."));
}

TEST(Clauses, SayWhoGetsWhatNoClaimCovers) {
  facts::Terms terms = SharedBy({1, 1});
  terms.shares.clear();
  terms.prior_claims = {PartOfRest(1, 10'000)};
  EXPECT_THAT(Clauses(terms, {"mira", "tomas"}),
              Contains("The rest that no claim covers goes to mira, named first."));
}

TEST(Clauses, DoNotCallAShareOfOneARatio) {
  facts::Terms terms = SharedBy({3});
  terms.parties.push_back({.keeper = Keeper(2)});
  EXPECT_THAT(Clauses(terms, {"mira", "tomas"}), Contains("The clutch goes to mira."));
}

TEST(Clauses, CountOneAsOne) {
  facts::Terms terms = SharedBy({1, 1});
  terms.sacs_covered = 1;
  terms.counting_stage = 1;
  terms.prior_claims = {FirstSlings(0, 1)};
  const auto clauses = Clauses(terms, {"mira", "tomas"});
  EXPECT_THAT(clauses, Contains("The first sac of the pairing is covered, later ones are not."));
  EXPECT_THAT(clauses, Contains("What is shared is the count after 1 moult since the egg."));
  EXPECT_THAT(clauses, Contains("First, mira gets 1 sling."));
}

}  // namespace
}  // namespace broodpact::shares
