#include "client/replica/internal/broods.h"

#include <algorithm>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/replica/internal/bulk.h"

namespace broodpact::replica {
namespace {

void KeepLatest(std::map<AnimalId, Day>& days, const AnimalId& female, Day day) {
  const auto [last, is_new] = days.emplace(female, day);
  if (!is_new) last->second = std::max(last->second, day);
}

}  // namespace

absl::StatusOr<Broods> Broods::Of(const registry::Source& source,
                                  const std::vector<registry::Animal>& animals) {
  Broods broods;
  std::vector<PairingId> pairing_ids;
  std::vector<ClutchId> clutch_ids;
  for (const registry::Animal& animal : animals) {
    if (animal.sex != facts::Sex::kFemale) continue;
    pairing_ids.insert(pairing_ids.end(), animal.pairings.begin(), animal.pairings.end());
    clutch_ids.insert(clutch_ids.end(), animal.clutches.begin(), animal.clutches.end());
  }
  BP_ASSIGN_OR_RETURN(const auto pairings, ReadMany<registry::Pairing>(source, pairing_ids));
  for (const registry::Pairing& pairing : pairings) {
    if (pairing.outcome == facts::PairingOutcome::kRefused) continue;
    KeepLatest(broods.last_pairing_, pairing.female, MiddleOf(pairing.day));
  }
  BP_ASSIGN_OR_RETURN(const auto clutches, ReadMany<registry::Clutch>(source, clutch_ids));
  for (const registry::Clutch& clutch : clutches) {
    KeepLatest(broods.last_laying_, clutch.female, MiddleOf(clutch.laying));
    if (clutch.counts.empty() && !clutch.loss) {
      broods.guards_sac_.emplace(clutch.female, clutch.laying);
    }
    const bool hatched = std::ranges::any_of(clutch.counts, [](const registry::CountRecord& count) {
      return count.state == registry::CountState::kStanding && count.slings_living > 0;
    });
    if (hatched) ++broods.hatched_[clutch.female];
  }
  return broods;
}

std::optional<std::string> Broods::WhyOccupied(const registry::Animal& female) const {
  const auto sac = guards_sac_.find(female.id);
  if (sac != guards_sac_.end()) {
    return fmt::format("has a sac, laid on {}", ToText(sac->second));
  }
  const auto paired = last_pairing_.find(female.id);
  if (paired == last_pairing_.end()) return std::nullopt;
  const bool moulted_since = std::ranges::any_of(
      female.moults,
      [&](const registry::MoultRecord& moult) { return moult.day.latest >= paired->second; });
  const auto laid = last_laying_.find(female.id);
  const bool laid_since = laid != last_laying_.end() && laid->second >= paired->second;
  if (moulted_since || laid_since) return std::nullopt;
  return fmt::format("was paired on {}, and has not moulted since", ToText(paired->second));
}

std::uint32_t Broods::HatchedOf(const AnimalId& female) const {
  const auto found = hatched_.find(female);
  return found == hatched_.end() ? 0 : found->second;
}

bool IsKnownMature(const registry::Animal& female) {
  return female.maturity || !female.clutches.empty() || !female.pairings.empty();
}

}  // namespace broodpact::replica
