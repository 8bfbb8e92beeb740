#pragma once

// Which pairs keepers keep out of plans.

#include <map>
#include <string>
#include <vector>

#include "absl/status/statusor.h"

#include "client/registry/state.h"
#include "client/registry/subject.h"

namespace broodpact::replica {

// Vetoes that are looked through; far more than a cooperative states.
inline constexpr std::size_t kVetoesMax = 100'000;

class Vetoes {
 public:
  // Reads all that stand.
  static absl::StatusOr<Vetoes> Of(const registry::Source& source);

  // Whether an owner or a holder of one of the two keeps it away from the other.
  bool Between(const registry::Animal& one, const registry::Animal& other) const;

  // Whether an owner or a holder keeps it out of plans altogether.
  bool KeptOut(const registry::Animal& animal) const;

 private:
  bool Speaks(const registry::Animal& animal, const registry::Animal& other) const;

  std::map<KeeperId, std::vector<registry::Veto>> by_keeper_;
};

}  // namespace broodpact::replica
