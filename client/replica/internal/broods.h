#pragma once

// Which females are occupied: they have a sac, or were paired and have not moulted since.

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "absl/status/statusor.h"

#include "client/base/day.h"
#include "client/registry/state.h"
#include "client/registry/subject.h"

namespace broodpact::replica {

// What of females' pairings and sacs matters for the next pairing. Days that are not known exactly
// are the middles of their spans.
class Broods {
 public:
  // Reads those of the females among `animals`.
  static absl::StatusOr<Broods> Of(const registry::Source& source,
                                   const std::vector<registry::Animal>& animals);

  // Why she cannot be paired: "has a sac, laid on 2026-09-12", "was paired on 2026-10-01, and has
  // not moulted since". A pairing that was refused is none. Nothing: she can.
  std::optional<std::string> WhyOccupied(const registry::Animal& female) const;

  // How many of her sacs were counted with living slings.
  std::uint32_t HatchedOf(const AnimalId& female) const;

 private:
  std::map<AnimalId, Day> last_pairing_;
  std::map<AnimalId, Day> last_laying_;
  std::map<AnimalId, DaySpan> guards_sac_;  // laid, and neither counted nor lost
  std::map<AnimalId, std::uint32_t> hatched_;
};

// Whether anybody stated that she is mature, or she was paired or laid.
bool IsKnownMature(const registry::Animal& female);

}  // namespace broodpact::replica
