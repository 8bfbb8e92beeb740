#pragma once

// Terms for the tests of splits: written by hand in few words, or generated so that equal weights,
// equal remainders, empty rests and limits are all likely.

#include <cstdint>
#include <initializer_list>
#include <numeric>
#include <string>
#include <vector>

#include <rapidcheck.h>

#include "client/facts/terms.h"

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
    return claim;
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
    return terms;
  });
}

}  // namespace broodpact::shares
