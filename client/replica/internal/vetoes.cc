#include "client/replica/internal/vetoes.h"

#include <algorithm>

#include "client/base/status.h"
#include "client/registry/index.h"
#include "client/replica/internal/bulk.h"

namespace broodpact::replica {
namespace {

// Whether a veto is about this animal of its keeper's.
bool IsAbout(const registry::Veto& veto, const registry::Animal& animal) {
  return veto.animal.empty() || veto.animal == animal.id;
}

bool IsAgainst(const registry::Veto& veto, const registry::Animal& other) {
  if (!veto.other_animal.empty()) return veto.other_animal == other.id;
  return veto.other_keeper == other.owner || veto.other_keeper == other.holder;
}

bool HasCounterpart(const registry::Veto& veto) {
  return !veto.other_animal.empty() || !veto.other_keeper.empty();
}

}  // namespace

absl::StatusOr<Vetoes> Vetoes::Of(const registry::Source& source) {
  BP_ASSIGN_OR_RETURN(const std::vector<VetoId> ids,
                      IdsBehind<VetoId>(source, registry::StandingVetoes(), kVetoesMax));
  BP_ASSIGN_OR_RETURN(const auto vetoes, ReadMany<registry::Veto>(source, ids));
  Vetoes all;
  for (const registry::Veto& veto : vetoes) all.by_keeper_[veto.keeper].push_back(veto);
  return all;
}

bool Vetoes::Speaks(const registry::Animal& animal, const registry::Animal& other) const {
  for (const KeeperId& keeper : {animal.owner, animal.holder}) {
    const auto own = by_keeper_.find(keeper);
    if (own == by_keeper_.end()) continue;
    const bool speaks = std::ranges::any_of(own->second, [&](const registry::Veto& veto) {
      return IsAbout(veto, animal) && HasCounterpart(veto) && IsAgainst(veto, other);
    });
    if (speaks) return true;
  }
  return false;
}

bool Vetoes::Between(const registry::Animal& one, const registry::Animal& other) const {
  if (by_keeper_.empty()) return false;
  return Speaks(one, other) || Speaks(other, one);
}

bool Vetoes::KeptOut(const registry::Animal& animal) const {
  for (const KeeperId& keeper : {animal.owner, animal.holder}) {
    const auto own = by_keeper_.find(keeper);
    if (own == by_keeper_.end()) continue;
    const bool is_out = std::ranges::any_of(own->second, [&](const registry::Veto& veto) {
      return veto.animal == animal.id && !HasCounterpart(veto);
    });
    if (is_out) return true;
  }
  return false;
}

}  // namespace broodpact::replica
