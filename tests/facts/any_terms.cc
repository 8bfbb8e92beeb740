// Agreements and forms for the properties of any_statement.h.

#include <algorithm>

#include "tests/facts/any_statement.h"

namespace broodpact::facts {
namespace {

PriorClaim AnyClaim(std::uint32_t parties) {
  PriorClaim claim;
  claim.party = *rc::gen::inRange<std::uint32_t>(0, parties);
  claim.kind = Any(ClaimKind::kBasisPoints);
  claim.amount = claim.kind == ClaimKind::kSlings
                     ? *AnySlings(1)
                     : *rc::gen::element<std::uint32_t>(1, 2500, kBasisPointsMax);
  claim.slings_counted_min = *AnySlings();
  claim.slings_max = *AnySlings();
  claim.slings_min = *AnySlings();
  claim.sacs_max = *rc::gen::inRange<std::uint32_t>(0, kSacsMax + 1);
  return claim;
}

void DrawCare(Terms& terms) {
  terms.loss_bearer = Any(LossBearer::kShared);
  terms.risk = {.bearer = Any(MaleRisk::kBorrower),
                .in_transit = Any(MaleRisk::kBorrower),
                .eaten = Any(MaleRisk::kBorrower),
                .natural = Any(MaleRisk::kBorrower),
                .yield = Any(RiskYield::kRemarks)};
  if (terms.risk.yield == RiskYield::kSlings) terms.risk.yield_slings = *AnySlings(1);
  terms.giving_back = {.pairings_max = *rc::gen::element(0U, 1U, kClauseNumberMax),
                       .lending_on = Any(LendingOn::kAllowed)};
  terms.carriage = {.payer = Any(CarriagePayer::kReceiver),
                    .out = Any(CarriagePayer::kReceiver),
                    .back = Any(CarriagePayer::kReceiver),
                    .slings = Any(CarriagePayer::kReceiver)};
  terms.dead_arrivals = {.report_hours = *rc::gen::element(0U, 24U, kClauseNumberMax),
                         .replace_days = *rc::gen::element(0U, 14U, kClauseNumberMax)};
  terms.failure = {.no_sac = Any(FailureRule::kNextSac),
                   .infertile_sac = Any(FailureRule::kNextSac),
                   .no_sac_days = *rc::gen::element(0U, 365U, kNoSacDaysMax)};
  terms.arbiter = *AnyIdOrNone<KeeperId>();
  terms.remarks = *AnyText();
}

void DrawSacs(Terms& terms) {
  terms.coverage.females.resize(*rc::gen::element<std::size_t>(0, 1, kFemalesMax));
  for (AnimalId& female : terms.coverage.females) female = *AnyIdOf<AnimalId>();
  terms.coverage.sacs = *rc::gen::inRange<std::uint32_t>(0, 3);
  terms.coverage.until_day = Maybe(AnyDay());
  terms.counting = {.stage = *rc::gen::inRange<std::uint32_t>(0, 4),
                    .counter = *AnyIdOrNone<KeeperId>(),
                    .witness = *AnyIdOrNone<KeeperId>()};
  terms.later_shares.resize(*rc::gen::element<std::size_t>(0, 1, kLaterSharesMax));
  for (std::uint32_t i = 0; i < terms.later_shares.size(); ++i) {
    terms.later_shares[i] = {.first_sac = i + 2, .shares = terms.shares};
  }
}

Terms AnyTerms() {
  Terms terms;
  const auto parties = *rc::gen::element<std::uint32_t>(2, 3, kPartiesMax);
  for (std::uint32_t i = 0; i < parties; ++i) {
    Party party = {.role = Any(PartyRole::kEarlierLender)};
    party.keeper.bytes.back() = static_cast<std::uint8_t>(i + 1);
    terms.parties.push_back(party);
  }
  if (*rc::gen::arbitrary<bool>()) {
    terms.small_clutch = {.below = *AnySlings(1),
                          .party = *rc::gen::inRange<std::uint32_t>(0, parties)};
  }
  terms.prior_claims.resize(*rc::gen::element<std::size_t>(0, 1, 2, kClaimsMax));
  for (PriorClaim& claim : terms.prior_claims) claim = AnyClaim(parties);
  const auto shares = *rc::gen::inRange<std::uint32_t>(1, parties + 1);
  for (std::uint32_t i = 0; i < shares; ++i) {
    terms.shares.push_back(
        {.party = i, .weight = *rc::gen::element<std::uint32_t>(1, 2, 50, kWeightMax)});
  }
  terms.apportioning = {.method = Any(Method::kHuntingtonHill),
                        .carry = Any(Carry::kChairman),
                        .sires = Any(SireRule::kPairings)};
  const auto least = std::ranges::min_element(terms.shares, {}, &RatioShare::weight)->weight;
  // Bounds of a carry: the sum is at most so many times the least.
  if (least * kCarryRatioMax < kPartiesMax * kWeightMax) {
    terms.apportioning.carry = Any(Carry::kOff);
  }
  DrawSacs(terms);
  DrawCare(terms);
  return terms;
}

}  // namespace

rc::Gen<Agreement> AnyAgreement() {
  return rc::gen::exec([] {
    Agreement agreement;
    agreement.loan = *AnyIdOf<LoanId>();
    agreement.cooperative = *AnyBytes<Hash>();
    agreement.animal = *AnyIdOf<AnimalId>();
    agreement.return_day = Maybe(AnyDay());
    agreement.terms = AnyTerms();
    agreement.lender = agreement.terms.parties[0].keeper;
    agreement.borrower = agreement.terms.parties[1].keeper;
    return agreement;
  });
}

rc::Gen<Terms> AnyFormTerms() {
  return rc::gen::exec([] {
    Terms terms;
    const auto roles = *rc::gen::inRange<std::uint32_t>(1, 6);
    for (std::uint32_t i = 0; i < roles; ++i) {
      terms.parties.push_back({.keeper = {}, .role = static_cast<PartyRole>(i + 1)});
      terms.shares.push_back({.party = i, .weight = *rc::gen::element<std::uint32_t>(1, 2, 50)});
    }
    terms.apportioning.carry = Any(Carry::kChairman);
    DrawSacs(terms);
    DrawCare(terms);
    return terms;
  });
}

}  // namespace broodpact::facts
