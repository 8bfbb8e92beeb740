#pragma once

// What a split depends on beside the terms and the count: the sac's place among those of the loan,
// what carries over, and whose males may be the sire. The registry knows it.
//
// Pure.

#include <cstdint>
#include <vector>

#include "client/base/id.h"

namespace broodpact::shares {

// The owner of one or more possible sires.
struct SireOwner {
  KeeperId keeper{};
  std::uint32_t pairings = 0;  // of his males with the female, in the interval of the sac
  bool paired_last = false;    // none of another owner's males was paired later

  friend bool operator==(const SireOwner&, const SireOwner&) = default;
};

struct Occasion {
  std::uint32_t sac_number = 1;          // of this female under this loan
  std::uint32_t carried_slings = 0;      // shared before between the same parties at the same ratio
  std::vector<SireOwner> sire_owners{};  // each once, by rising id

  friend bool operator==(const Occasion&, const Occasion&) = default;
};

}  // namespace broodpact::shares
