#pragma once

// Terms for the tests of splits: written by hand in few words, or generated so that equal weights,
// equal remainders, empty rests and limits are all likely.

#include <algorithm>
#include <cstdint>
#include <initializer_list>
#include <numeric>
#include <string>
#include <vector>

#include <rapidcheck.h>

#include "client/facts/terms.h"
#include "client/shares/occasion.h"

namespace broodpact::shares {

// A keeper whose id orders as `number` does.
inline KeeperId Keeper(std::uint32_t number) {
  KeeperId keeper;
  for (std::size_t i = 0; i < 4; ++i) {
    keeper.bytes[i] = static_cast<std::uint8_t>(number >> (8 * (3 - i)));
  }
  return keeper;
}

// Parties 1, 2, 3 ... and a share for each, in that order.
inline facts::Terms SharedBy(std::initializer_list<std::uint32_t> weights) {
  facts::Terms terms;
  for (const std::uint32_t weight : weights) {
    const auto party = static_cast<std::uint32_t>(terms.parties.size());
    terms.parties.push_back({.keeper = Keeper(party + 1)});
    terms.shares.push_back({.party = party, .weight = weight});
  }
  return terms;
}

inline facts::PriorClaim FirstSlings(std::uint32_t party, std::uint32_t slings) {
  return {.party = party, .kind = facts::ClaimKind::kSlings, .amount = slings};
}

inline facts::PriorClaim PartOfRest(std::uint32_t party, std::uint32_t basis_points) {
  return {.party = party, .kind = facts::ClaimKind::kBasisPoints, .amount = basis_points};
}

// One weight: mostly small, so that remainders are often equal; now and then at the limit.
inline rc::Gen<std::uint32_t> AnyWeight() {
  return rc::gen::weightedOneOf<std::uint32_t>({
      {6, rc::gen::inRange<std::uint32_t>(1, 5)},
      {3, rc::gen::inRange<std::uint32_t>(1, 101)},
      {1, rc::gen::inRange<std::uint32_t>(facts::kWeightMax - 2, facts::kWeightMax + 1)},
  });
}

// A count: mostly around the number of parties; now and then at the limit.
inline rc::Gen<std::uint32_t> AnyCount() {
  return rc::gen::weightedOneOf<std::uint32_t>({
      {4, rc::gen::inRange<std::uint32_t>(0, 25)},
      {4, rc::gen::inRange<std::uint32_t>(0, 2'001)},
      {1, rc::gen::inRange<std::uint32_t>(facts::kSlingsMax - 25, facts::kSlingsMax + 1)},
  });
}

// 1 to 16 parties with keepers in no order, a share each, no claims.
inline rc::Gen<facts::Terms> AnyRatioTerms() {
  return rc::gen::exec([] {
    const auto count = *rc::gen::inRange<std::uint32_t>(1, facts::kPartiesMax + 1);
    std::vector<std::uint32_t> numbers(count);
    std::iota(numbers.begin(), numbers.end(), 1U);
    numbers = *rc::gen::map(
        rc::gen::container<std::vector<std::uint32_t>>(count, rc::gen::arbitrary<std::uint32_t>()),
        [numbers](const std::vector<std::uint32_t>& picks) {
          std::vector<std::uint32_t> shuffled = numbers;
          for (std::size_t i = shuffled.size(); i > 1; --i) {
            std::swap(shuffled[i - 1], shuffled[picks[i - 1] % i]);
          }
          return shuffled;
        });
    facts::Terms terms;
    for (std::uint32_t i = 0; i < count; ++i) {
      terms.parties.push_back({.keeper = Keeper(numbers[i])});
      terms.shares.push_back({.party = i, .weight = *AnyWeight()});
    }
    return terms;
  });
}

inline rc::Gen<facts::PriorClaim> AnyClaim(std::uint32_t parties) {
  return rc::gen::exec([parties] {
    facts::PriorClaim claim;
    claim.party = *rc::gen::inRange<std::uint32_t>(0, parties);
    if (*rc::gen::arbitrary<bool>()) {
      claim = FirstSlings(claim.party, *rc::gen::inRange<std::uint32_t>(1, 30));
    } else {
      claim = PartOfRest(claim.party, *rc::gen::inRange<std::uint32_t>(1, 10'001));
    }
    claim.slings_counted_min = *rc::gen::element<std::uint32_t>(0, 0, 10, 500);
    claim.slings_max = *rc::gen::element<std::uint32_t>(0, 0, 5, 40);
    claim.slings_min = *rc::gen::element<std::uint32_t>(0, 0, 0, 7);
    claim.sacs_max = *rc::gen::element<std::uint32_t>(0, 0, 0, 1);
    return claim;
  });
}

// Whether the weights of a carry are coarse enough to be shared quickly a thousand times.
inline bool IsCoarse(const facts::Terms& terms) {
  std::uint64_t sum = 0;
  std::uint64_t least = facts::kWeightMax;
  for (const facts::RatioShare& share : terms.shares) {
    sum += share.weight;
    least = std::min<std::uint64_t>(least, share.weight);
  }
  return sum <= 1'000 * least;
}

// How shares become slings: any method, any carry, any rule for several males.
inline rc::Gen<facts::Apportioning> AnyApportioning() {
  return rc::gen::exec([] {
    using facts::Carry;
    using facts::Method;
    using facts::SireRule;
    return facts::Apportioning{
        .method = *rc::gen::element(Method::kLargestRemainder, Method::kSainteLague,
                                    Method::kDHondt, Method::kAdams, Method::kHuntingtonHill),
        .carry =
            *rc::gen::element(Carry::kUnspecified, Carry::kOff, Carry::kQuota, Carry::kChairman),
        .sires = *rc::gen::element(SireRule::kUnspecified, SireRule::kAsWritten, SireRule::kEqual,
                                   SireRule::kLastPaired, SireRule::kPairings)};
  });
}

// Owners of possible sires, some of them parties; an early or a late sac; a carry of any size.
inline rc::Gen<Occasion> AnyOccasion() {
  return rc::gen::exec([] {
    Occasion occasion{.sac_number = *rc::gen::inRange<std::uint32_t>(1, 4),
                      .carried_slings = *rc::gen::inRange<std::uint32_t>(0, 1'000)};
    const auto owners = *rc::gen::inRange<std::uint32_t>(0, 4);
    for (std::uint32_t i = 0; i < owners; ++i) {
      occasion.sire_owners.push_back({.keeper = Keeper(1 + 7 * i),
                                      .pairings = *rc::gen::inRange<std::uint32_t>(1, 4),
                                      .paired_last = *rc::gen::arbitrary<bool>()});
    }
    return occasion;
  });
}

// Any terms that an agreement could hold: claims, small clutches, shares for some or for none.
inline rc::Gen<facts::Terms> AnyTerms() {
  return rc::gen::exec([] {
    facts::Terms terms = *AnyRatioTerms();
    const auto parties = static_cast<std::uint32_t>(terms.parties.size());
    const auto claims = *rc::gen::inRange<std::size_t>(0, 5);
    for (std::size_t i = 0; i < claims; ++i) terms.prior_claims.push_back(*AnyClaim(parties));
    if (*rc::gen::inRange(0, 4) == 0) {
      terms.small_clutch = {.below = *rc::gen::inRange<std::uint32_t>(0, 20),
                            .party = *rc::gen::inRange<std::uint32_t>(0, parties)};
    }
    terms.shares.resize(*rc::gen::inRange<std::size_t>(0, terms.shares.size() + 1));
    if (!terms.shares.empty() && *rc::gen::inRange(0, 4) == 0) {
      terms.later_shares = {{.first_sac = 2, .shares = {terms.shares.back()}}};
    }
    terms.apportioning = *AnyApportioning();
    if (!IsCoarse(terms)) terms.apportioning.carry = facts::Carry::kOff;
    for (facts::Party& party : terms.parties) {
      if (*rc::gen::inRange(0, 4) == 0) party.role = facts::PartyRole::kMaleOwner;
    }
    return terms;
  });
}

}  // namespace broodpact::shares
