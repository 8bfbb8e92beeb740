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
  terms.counting.stage = 2;
  terms.coverage.sacs = 2;
  terms.loss_bearer = facts::LossBearer::kShared;
  terms.risk.bearer = facts::MaleRisk::kBorrower;
  terms.carriage.payer = facts::CarriagePayer::kLender;
  terms.remarks = "Photographs of the slings every month.";
  EXPECT_THAT(
      Clauses(terms, {.parties = {"mira", "tomas", "bela"}}),
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
          "If several males may be the sire, the part of the male's owner is divided equally "
          "between the owners of those males.",
          "Slings lost between count and handover are the loss of all parties, by their shares.",
          "The borrower answers for a male that dies on loan.",
          "The lender pays the carriage, both ways.",
          "Remarks: Photographs of the slings every month."));
}

TEST(Clauses, SayWhatHoldsWhereThePaperSaysNothing) {
  EXPECT_THAT(
      Clauses(SharedBy({1, 1}), {.parties = {"mira", "tomas"}}),
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
  EXPECT_THAT(Clauses(terms, {.parties = {"mira", "tomas"}}),
              Contains("The rest that no claim covers goes to mira, named first."));
}

TEST(Clauses, DoNotCallAShareOfOneARatio) {
  facts::Terms terms = SharedBy({3});
  terms.parties.push_back({.keeper = Keeper(2)});
  EXPECT_THAT(Clauses(terms, {.parties = {"mira", "tomas"}}), Contains("The clutch goes to mira."));
}

TEST(Clauses, SayEverythingThatCanBeAgreed) {
  facts::Terms terms = SharedBy({1, 1});
  terms.parties[0].role = facts::PartyRole::kMaleOwner;
  terms.coverage = {.females = {AnimalId{}}, .sacs = 1, .until_day = Day{20'000}};
  terms.later_shares = {
      {.first_sac = 2, .shares = {{.party = 0, .weight = 1}, {.party = 1, .weight = 3}}}};
  terms.prior_claims = {PartOfRest(0, 500)};
  terms.prior_claims[0].slings_min = 8;
  terms.prior_claims[0].sacs_max = 1;
  terms.apportioning = {.carry = facts::Carry::kQuota, .sires = facts::SireRule::kPairings};
  terms.risk = {.in_transit = facts::MaleRisk::kLender,
                .eaten = facts::MaleRisk::kBorrower,
                .natural = facts::MaleRisk::kLender,
                .yield = facts::RiskYield::kSlings,
                .yield_slings = 5};
  terms.giving_back = {.pairings_max = 3, .lending_on = facts::LendingOn::kConsent};
  terms.carriage = {.out = facts::CarriagePayer::kLender,
                    .back = facts::CarriagePayer::kBorrower,
                    .slings = facts::CarriagePayer::kReceiver};
  terms.dead_arrivals = {.report_hours = 24, .replace_days = 14};
  terms.failure = {.no_sac = facts::FailureRule::kRepeat,
                   .infertile_sac = facts::FailureRule::kNextSac,
                   .no_sac_days = 365};
  EXPECT_THAT(
      Clauses(terms, {.parties = {"mira", "tomas"},
                      .females = {"rosa"},
                      .counter = "tomas",
                      .witness = "bela",
                      .arbiter = "iva"}),
      ElementsAre(
          "The parties are mira (owner of the male) and tomas.",
          "The first sac of the pairing is covered, later ones are not.",
          "Only sacs of rosa are covered.", "Sacs laid after 2024-10-04 are not covered.",
          "What is shared is the count that is recorded.", "tomas counts.",
          "bela confirms the count before it is shared out.",
          "First, mira gets 5 % of what is left, at least 8 slings, rounded down, of the first sac "
          "only.",
          "The rest is shared 1 : 1 between mira and tomas. What one clutch leaves over for a "
          "party "
          "is made up for by the next between the same parties at the same ratio (quota method of "
          "Balinski and Young), so that nobody is ever a whole sling off his due; of equal claims "
          "the larger share comes first, then the lower keeper id.",
          "From a female's sac number 2 on, the rest is shared 1 : 3 between mira and tomas.",
          "If several males may be the sire, the part of the male's owner is divided between the "
          "owners of those males by their pairings.",
          "Slings lost between count and handover are the loss of the party whose lot they are.",
          "Nothing is owed for a male that dies on loan; he may be eaten.",
          "If it dies on the way, nothing is owed for it.",
          "If it is eaten by the female, the borrower answers for it.",
          "If it dies of age or illness, nothing is owed for it.",
          "For a death that he answers for the borrower owes 5 slings of his part of the next "
          "clutch.",
          "It goes back after 3 pairings, if not before.",
          "The borrower lends it on only with the lender's consent each time.",
          "Whoever sends pays the carriage.", "The lender pays its way to the borrower.",
          "The borrower pays its way back.",
          "Whoever receives pays the slings' way to the parties.",
          "Slings that arrive dead are reported within 24 hours.",
          "Slings that arrive dead are replaced out of the sender's own within 14 days.",
          "If no sac comes within 365 days of the last pairing, the animal comes again, or another "
          "that the lender has of the group.",
          "If a sac comes to nothing, the female's next sac takes its place, whatever its sire.",
          "Where the parties disagree, iva decides."));
}

TEST(Clauses, CountOneAsOne) {
  facts::Terms terms = SharedBy({1, 1});
  terms.coverage.sacs = 1;
  terms.counting.stage = 1;
  terms.prior_claims = {FirstSlings(0, 1)};
  const auto clauses = Clauses(terms, {.parties = {"mira", "tomas"}});
  EXPECT_THAT(clauses, Contains("The first sac of the pairing is covered, later ones are not."));
  EXPECT_THAT(clauses, Contains("What is shared is the count after 1 moult since the egg."));
  EXPECT_THAT(clauses, Contains("First, mira gets 1 sling."));
}

}  // namespace
}  // namespace broodpact::shares
