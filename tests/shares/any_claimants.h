#pragma once

// Claimants for the tests of apportionment: written by hand in few words, or generated so that
// equal weights, equal claims and limits are all likely.

#include <algorithm>
#include <cstdint>
#include <initializer_list>
#include <map>
#include <utility>
#include <vector>

#include <rapidcheck.h>

#include "client/shares/claimant.h"
#include "tests/shares/any_terms.h"

namespace broodpact::shares {

// More bits than any product of a test needs.
__extension__ using Wide = unsigned __int128;

// Keepers 1, 2, 3 ... with these weights, in that order.
inline std::vector<Claimant> Weighing(std::initializer_list<std::uint64_t> weights) {
  std::vector<Claimant> claimants;
  std::uint32_t number = 0;
  for (const std::uint64_t weight : weights) {
    claimants.push_back({.keeper = Keeper(++number), .weight = weight});
  }
  return claimants;
}

inline std::vector<Claimant> ClaimantsOf(const facts::Terms& terms) {
  std::vector<Claimant> claimants;
  for (const facts::RatioShare& share : terms.shares) {
    claimants.push_back({.keeper = terms.parties[share.party].keeper, .weight = share.weight});
  }
  return claimants;
}

// 1 to 16 claimants in no order, with the weights of AnyWeight.
inline rc::Gen<std::vector<Claimant>> AnyClaimants() {
  return rc::gen::map(AnyRatioTerms(),
                      [](const facts::Terms& terms) { return ClaimantsOf(terms); });
}

// 1 to 6 claimants whose weights are of one size, as people agree on them: small, out of a hundred,
// or at the limit.
inline rc::Gen<std::vector<Claimant>> AnyEvenClaimants() {
  return rc::gen::exec([] {
    std::vector<Claimant> claimants = *AnyClaimants();
    claimants.resize(std::min(claimants.size(), *rc::gen::inRange<std::size_t>(1, 7)));
    using Range = std::pair<std::uint32_t, std::uint32_t>;
    const auto [least, most] =
        *rc::gen::element(Range{1, 5}, Range{1, 5}, Range{5, 51},
                          Range{facts::kWeightMax - 9, facts::kWeightMax + 1});
    for (Claimant& claimant : claimants) {
      claimant.weight = *rc::gen::inRange<std::uint32_t>(least, most);
    }
    return claimants;
  });
}

// 2 to 6 claimants at a ratio that a clutch has: 1 : 1, 40 : 40 : 10 : 10.
inline rc::Gen<std::vector<Claimant>> AnyAgreedClaimants() {
  return rc::gen::exec([] {
    const auto terms = *rc::gen::inRange<std::uint32_t>(0, UINT32_MAX);
    std::vector<Claimant> claimants;
    const auto count = *rc::gen::inRange<std::uint32_t>(2, 7);
    for (std::uint32_t i = 0; i < count; ++i) {
      claimants.push_back({.keeper = Keeper(terms ^ (i * 0x9E3779B9U)),
                           .weight = *rc::gen::element<std::uint64_t>(1, 1, 2, 3, 4, 5, 7, 10)});
    }
    return claimants;
  });
}

// A number of slings: mostly around the number of parties; now and then at the limit.
inline rc::Gen<std::uint32_t> AnyTotal() {
  return rc::gen::weightedOneOf<std::uint32_t>({
      {4, rc::gen::inRange<std::uint32_t>(0, 25)},
      {4, rc::gen::inRange<std::uint32_t>(0, 2'001)},
      {1, rc::gen::inRange<std::uint32_t>(0, kSlingsSharedMax)},
      {1, rc::gen::inRange<std::uint32_t>(kSlingsSharedMax - 25, kSlingsSharedMax)},
  });
}

// What each keeper got, whatever the order in which the claimants stand.
inline std::map<KeeperId, std::uint32_t> ByKeeper(const std::vector<Claimant>& claimants,
                                                  const std::vector<std::uint32_t>& slings) {
  std::map<KeeperId, std::uint32_t> by_keeper;
  for (std::size_t i = 0; i < claimants.size(); ++i) by_keeper[claimants[i].keeper] = slings.at(i);
  return by_keeper;
}

inline Wide SumOf(const std::vector<std::uint32_t>& slings) {
  Wide sum = 0;
  for (const std::uint32_t each : slings) sum += each;
  return sum;
}

}  // namespace broodpact::shares
