#include "client/replica/internal/lineage.h"

#include "client/base/status.h"
#include "client/registry/interval.h"
#include "client/replica/internal/bulk.h"

namespace broodpact::replica {

class LineageReader {
 public:
  explicit LineageReader(const registry::Source& source) : source_(source) {}

  absl::StatusOr<Lineage> Read(std::span<const registry::Animal> animals) {
    std::vector<registry::Animal> generation;
    for (const registry::Animal& animal : animals) {
      if (Enter(animal.id)) generation.push_back(animal);
    }
    while (!generation.empty()) {
      BP_RETURN_IF_ERROR(ReadClutches(generation));
      std::vector<AnimalId> next;
      for (const registry::Animal& animal : generation) NoteParents(animal, next);
      BP_ASSIGN_OR_RETURN(generation, ReadMany<registry::Animal>(source_, next));
    }
    BP_ASSIGN_OR_RETURN(kinship::Pedigree pedigree, kinship::Pedigree::Of(parents_));
    Lineage lineage(std::move(pedigree));
    lineage.nodes_ = std::move(nodes_);
    lineage.parents_ = std::move(parents_);
    lineage.clutches_unsure_ = std::move(clutches_unsure_);
    lineage.cut_off_ = cut_off_;
    return lineage;
  }

 private:
  struct Pair {
    AnimalId sire;
    AnimalId dam;
  };

  // Gives an animal a place; false if it has one.
  bool Enter(const AnimalId& animal) {
    const auto node = static_cast<kinship::Node>(parents_.size());
    if (!nodes_.emplace(animal, node).second) return false;
    parents_.emplace_back();
    return true;
  }

  // The place of a parent, which is read in the next generation if it is new.
  kinship::Node Parent(const AnimalId& parent, std::vector<AnimalId>& next) {
    if (parent.empty()) return kinship::kUnknown;
    if (!nodes_.contains(parent) && nodes_.size() >= kAncestorsMax) {
      cut_off_ = true;
      return kinship::kUnknown;
    }
    if (Enter(parent)) next.push_back(parent);
    return nodes_.at(parent);
  }

  void NoteParents(const registry::Animal& animal, std::vector<AnimalId>& next) {
    AnimalId sire = animal.sire;
    AnimalId dam = animal.dam;
    if (const auto clutch = clutches_.find(animal.clutch); clutch != clutches_.end()) {
      if (sire.empty()) sire = clutch->second.sire;
      if (dam.empty()) dam = clutch->second.dam;
    }
    const kinship::Node sire_node = Parent(sire, next);
    const kinship::Node dam_node = Parent(dam, next);
    parents_[nodes_.at(animal.id)] = {.sire = sire_node, .dam = dam_node};
  }

  // Finds the parents of the clutches that a generation was raised from, in three reads.
  absl::Status ReadClutches(const std::vector<registry::Animal>& generation) {
    std::vector<ClutchId> new_clutches;
    for (const registry::Animal& animal : generation) {
      const bool asked = !animal.clutch.empty() && (animal.sire.empty() || animal.dam.empty());
      if (asked && clutches_.emplace(animal.clutch, Pair{}).second) {
        new_clutches.push_back(animal.clutch);
      }
    }
    if (new_clutches.empty()) return absl::OkStatus();
    BP_ASSIGN_OR_RETURN(const auto clutches, ReadMany<registry::Clutch>(source_, new_clutches));
    std::vector<AnimalId> female_ids;
    female_ids.reserve(clutches.size());
    for (const registry::Clutch& clutch : clutches) female_ids.push_back(clutch.female);
    BP_ASSIGN_OR_RETURN(const auto females, ReadMany<registry::Animal>(source_, female_ids));
    std::map<AnimalId, const registry::Animal*> female_of;
    std::vector<PairingId> pairing_ids;
    for (const registry::Animal& female : females) {
      if (!female_of.emplace(female.id, &female).second) continue;
      pairing_ids.insert(pairing_ids.end(), female.pairings.begin(), female.pairings.end());
    }
    BP_ASSIGN_OR_RETURN(const auto pairings, ReadMany<registry::Pairing>(source_, pairing_ids));
    std::map<AnimalId, std::vector<registry::Pairing>> pairings_of;
    for (const registry::Pairing& pairing : pairings) {
      pairings_of[pairing.female].push_back(pairing);
    }
    for (const registry::Clutch& clutch : clutches) {
      const auto female = female_of.find(clutch.female);
      if (female == female_of.end()) continue;
      const std::vector<AnimalId> sires =
          registry::PossibleSires(*female->second, clutch.laying, pairings_of[clutch.female]);
      Pair& pair = clutches_[clutch.id];
      pair.dam = clutch.female;
      if (sires.size() == 1) pair.sire = sires.front();
      if (sires.size() > 1) clutches_unsure_.insert(clutch.id);
    }
    return absl::OkStatus();
  }

  const registry::Source& source_;
  std::map<AnimalId, kinship::Node> nodes_;
  std::vector<kinship::Parents> parents_;
  std::map<ClutchId, Pair> clutches_;  // those read; the empty ids are not known
  std::set<ClutchId> clutches_unsure_;
  bool cut_off_ = false;
};

absl::StatusOr<Lineage> Lineage::Of(const registry::Source& source,
                                    std::span<const registry::Animal> animals) {
  return LineageReader(source).Read(animals);
}

bool Lineage::parents_known(const AnimalId& animal) const {
  const kinship::Parents& parents = parents_[NodeOf(animal)];
  return parents.sire != kinship::kUnknown && parents.dam != kinship::kUnknown;
}

}  // namespace broodpact::replica
