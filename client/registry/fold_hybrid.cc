// Marks of hybrids: a pairing across groups marks all that descends from it, for ever, whatever
// comes in first. Every animal and clutch is marked once at most, so that all marking together
// costs no more than what was entered.

#include <map>
#include <vector>

#include "client/registry/internal/rules.h"
#include "client/registry/interval.h"

namespace broodpact::registry {
namespace {

// The clutches that pairings of a female may have sired.
std::vector<ClutchId> ClutchesOf(Case& c, const AnimalId& id,
                                 const std::vector<Pairing>& pairings) {
  std::vector<ClutchId> result;
  const Animal& female = Known<Animal>(c, id);
  const FertileDays days(female, pairings);
  for (const ClutchId& clutch : female.clutches) {
    if (days.Cover(Known<Clutch>(c, clutch).laying)) result.push_back(clutch);
  }
  return result;
}

void Append(std::vector<ClutchId>& to, const std::vector<ClutchId>& from) {
  to.insert(to.end(), from.begin(), from.end());
}

void MarkAnimal(Case& c, const AnimalId& id, ToMark& waiting) {
  if (Known<Animal>(c, id).hybrid) return;
  Animal& animal = c.state.Edit<Animal>(id);
  animal.hybrid = true;
  waiting.animals.insert(waiting.animals.end(), animal.offspring.begin(), animal.offspring.end());
  Append(waiting.clutches, animal.clutches);
  const std::vector<PairingId> pairings = animal.pairings;
  std::map<AnimalId, std::vector<Pairing>> mates;
  for (const PairingId& pairing_id : pairings) {
    if (Known<Pairing>(c, pairing_id).claimed) continue;
    Pairing& pairing = c.state.Edit<Pairing>(pairing_id);
    pairing.hybrid = true;
    if (pairing.male == id) mates[pairing.female].push_back(pairing);
  }
  for (const auto& [female, of_female] : mates) {
    Append(waiting.clutches, ClutchesOf(c, female, of_female));
  }
}

void MarkClutch(Case& c, const ClutchId& id, ToMark& waiting) {
  if (Known<Clutch>(c, id).hybrid) return;
  Clutch& clutch = c.state.Edit<Clutch>(id);
  clutch.hybrid = true;
  waiting.animals.insert(waiting.animals.end(), clutch.raised.begin(), clutch.raised.end());
}

}  // namespace

void MarkHybrids(Case& c) {
  ToMark& waiting = c.hybrids;
  while (!waiting.animals.empty() || !waiting.clutches.empty()) {
    if (!waiting.animals.empty()) {
      const AnimalId animal = waiting.animals.back();
      waiting.animals.pop_back();
      MarkAnimal(c, animal, waiting);
    } else {
      const ClutchId clutch = waiting.clutches.back();
      waiting.clutches.pop_back();
      MarkClutch(c, clutch, waiting);
    }
  }
}

bool MakesHybrids(const Animal& one, const Animal& other) {
  return one.group != other.group || one.hybrid || other.hybrid;
}

void NotePairing(Case& c, const PairingId& id) {
  const Pairing known = Known<Pairing>(c, id);
  const Animal& male = Known<Animal>(c, known.male);
  if (!MakesHybrids(male, Known<Animal>(c, known.female))) return;
  c.state.Edit<Pairing>(id).hybrid = true;
  Append(c.hybrids.clutches, ClutchesOf(c, known.female, {known}));
}

void NoteLaying(Case& c, const ClutchId& id) {
  const Clutch& clutch = Known<Clutch>(c, id);
  const Animal& female = Known<Animal>(c, clutch.female);
  std::vector<Pairing> across;
  for (const PairingId& pairing_id : female.pairings) {
    const Pairing& pairing = Known<Pairing>(c, pairing_id);
    if (pairing.hybrid) across.push_back(pairing);
  }
  const bool may_be_of_them = !across.empty() && FertileDays(female, across).Cover(clutch.laying);
  if (female.hybrid || may_be_of_them) {
    c.hybrids.clutches.push_back(id);
  }
}

void NoteDescent(Case& c, const AnimalId& id) {
  const Animal animal = Known<Animal>(c, id);
  bool hybrid = false;
  if (!animal.clutch.empty()) {
    c.state.Edit<Clutch>(animal.clutch).raised.push_back(id);
    hybrid = Known<Clutch>(c, animal.clutch).hybrid;
  } else {
    for (const AnimalId& parent : {animal.sire, animal.dam}) {
      if (parent.empty()) continue;
      c.state.Edit<Animal>(parent).offspring.push_back(id);
      hybrid = hybrid || Known<Animal>(c, parent).hybrid;
    }
    if (!animal.sire.empty() && !animal.dam.empty()) {
      const GroupId group = Known<Animal>(c, animal.sire).group;
      hybrid = hybrid || group != Known<Animal>(c, animal.dam).group;
    }
  }
  if (hybrid) c.hybrids.animals.push_back(id);
}

}  // namespace broodpact::registry
