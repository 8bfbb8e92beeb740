#include "client/replica/occasion.h"

#include <algorithm>
#include <optional>
#include <vector>

#include "client/base/status.h"
#include "client/registry/interval.h"
#include "client/shares/ratio.h"

namespace broodpact::replica {
namespace {

bool SharesByMale(const facts::Terms& terms, std::uint32_t sac_number) {
  return std::ranges::any_of(shares::SharesOf(terms, sac_number), [&](const auto& share) {
    return terms.parties[share.party].role == facts::PartyRole::kMaleOwner;
  });
}

absl::StatusOr<std::vector<shares::SireOwner>> SireOwners(const registry::Source& source,
                                                          const registry::Clutch& clutch) {
  BP_ASSIGN_OR_RETURN(const auto female, registry::Read<registry::Animal>(source, clutch.female));
  if (!female) return std::vector<shares::SireOwner>();
  std::vector<registry::Pairing> pairings;
  for (const PairingId& id : female->pairings) {
    BP_ASSIGN_OR_RETURN(const auto pairing, registry::Read<registry::Pairing>(source, id));
    if (pairing) pairings.push_back(*pairing);
  }
  return registry::SireOwnersOf(*female, clutch.laying, pairings);
}

}  // namespace

absl::StatusOr<shares::Occasion> OccasionOf(const registry::Source& source,
                                            const registry::Clutch& clutch,
                                            const facts::Terms& terms) {
  if (clutch.shared_out) return clutch.occasion;
  shares::Occasion occasion{.sac_number = clutch.occasion.sac_number};
  if (SharesByMale(terms, occasion.sac_number)) {
    BP_ASSIGN_OR_RETURN(occasion.sire_owners, SireOwners(source, clutch));
  }
  const std::optional<CarryId> id = shares::CarryIdOf(terms, occasion.sac_number);
  if (!id) return occasion;
  BP_ASSIGN_OR_RETURN(const auto carry, registry::Read<registry::Carry>(source, *id));
  if (carry) occasion.carried_slings = carry->slings;
  return occasion;
}

}  // namespace broodpact::replica
