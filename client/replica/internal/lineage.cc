#include "client/replica/internal/lineage.h"

#include <fmt/ranges.h>

#include "client/base/status.h"
#include "client/kinship/order.h"
#include "client/registry/interval.h"
#include "client/replica/internal/bulk.h"
#include "client/replica/internal/words.h"

namespace broodpact::replica {

namespace {

kinship::Sex SexOf(const registry::Animal& animal) {
  switch (animal.sex) {
    case facts::Sex::kMale:
      return kinship::Sex::kMale;
    case facts::Sex::kFemale:
      return kinship::Sex::kFemale;
    case facts::Sex::kUnknown:
      break;
  }
  return kinship::Sex::kNotKnown;
}

}  // namespace

class LineageReader {
 public:
  explicit LineageReader(const registry::Source& source) : source_(source) {}

  absl::StatusOr<Lineage> Read(std::span<const registry::Animal> animals) {
    nodes_max_ = animals.size() + kAncestorsMax;
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
    BP_RETURN_IF_ERROR(RelateFounders());
    auto pedigree = kinship::Pedigree::Of(lines_);
    if (!pedigree.ok()) return NamedCycle(pedigree.status());
    Lineage lineage(*std::move(pedigree));
    lineage.nodes_ = std::move(nodes_);
    lineage.lines_ = std::move(lines_);
    lineage.animals_ = std::move(animals_);
    lineage.lives_ = std::move(lives_);
    lineage.clutches_unsure_ = std::move(clutches_unsure_);
    lineage.assumptions_ = std::move(assumptions_);
    lineage.cut_off_ = cut_off_;
    return lineage;
  }

 private:
  // The parents of a clutch.
  struct Brood {
    AnimalId dam{};
    std::vector<AnimalId> sires{};               // that may be it
    kinship::Node stand_in = kinship::kUnknown;  // for them, once one is needed
  };

  kinship::Node AddNode(const AnimalId& animal) {
    lines_.animals.emplace_back();
    lives_.emplace_back();
    animals_.push_back(animal);
    groups_.emplace_back();
    return static_cast<kinship::Node>(animals_.size() - 1);
  }

  // Gives an animal a place; false if it has one.
  bool Enter(const AnimalId& animal) {
    const auto [found, is_new] = nodes_.try_emplace(animal);
    if (is_new) found->second = AddNode(animal);
    return is_new;
  }

  // The place of a parent, which is read in the next generation if it is new.
  kinship::Node Parent(const AnimalId& parent, std::vector<AnimalId>& next) {
    if (parent.empty()) return kinship::kUnknown;
    if (!nodes_.contains(parent) && nodes_.size() >= nodes_max_) {
      cut_off_ = true;
      return kinship::kUnknown;
    }
    if (Enter(parent)) next.push_back(parent);
    return nodes_.at(parent);
  }

  // The place of a clutch's sire: all clutch-mates have the same one.
  kinship::Node SireOf(Brood& brood, const GroupId& group, std::vector<AnimalId>& next) {
    if (brood.sires.size() == 1) return Parent(brood.sires.front(), next);
    if (brood.stand_in != kinship::kUnknown) return brood.stand_in;
    const kinship::Node node = AddNode({});
    brood.stand_in = node;
    if (brood.sires.empty()) {
      groups_[node] = group;
      return node;
    }
    kinship::StandIn stand_in{.node = node, .draw = kinship::Draw::kOneForAll};
    const double weight = 1 / static_cast<double>(brood.sires.size());
    for (const AnimalId& sire : brood.sires) {
      const kinship::Node place = Parent(sire, next);
      if (place == kinship::kUnknown) continue;
      stand_in.possible.push_back({.animal = place, .weight = weight});
    }
    lines_.stand_ins.push_back(std::move(stand_in));
    return node;
  }

  void NoteParents(const registry::Animal& animal, std::vector<AnimalId>& next) {
    kinship::Parents parents{.sire = Parent(animal.sire, next), .dam = Parent(animal.dam, next)};
    if (const auto clutch = clutches_.find(animal.clutch); clutch != clutches_.end()) {
      if (animal.sire.empty()) parents.sire = SireOf(clutch->second, animal.group, next);
      if (animal.dam.empty()) parents.dam = Parent(clutch->second.dam, next);
    }
    const kinship::Node node = nodes_.at(animal.id);
    lines_.animals[node] = parents;
    groups_[node] = animal.group;
    lives_[node] = {.sex = SexOf(animal),
                    .hatching = animal.hatching,
                    .maturity = animal.maturity,
                    .death = animal.death};
  }

  // Those of one group of whom a parent or both are not known.
  struct Origins {
    std::vector<kinship::Node> founders{};
    std::vector<kinship::Node> half_known{};
  };

  // Makes founders kin where a registrar has stated so. The unknown parent of an animal whose other
  // one is known is a founder as well, and gets a place for it.
  absl::Status RelateFounders() {
    std::map<GroupId, Origins> origins;
    for (kinship::Node node = 0; node < lines_.animals.size(); ++node) {
      const kinship::Parents& parents = lines_.animals[node];
      if (groups_[node].empty()) continue;
      const bool no_sire = parents.sire == kinship::kUnknown;
      const bool no_dam = parents.dam == kinship::kUnknown;
      if (no_sire && no_dam) origins[groups_[node]].founders.push_back(node);
      if (no_sire != no_dam) origins[groups_[node]].half_known.push_back(node);
    }
    std::vector<GroupId> ids;
    ids.reserve(origins.size());
    for (const auto& [group, nodes] : origins) ids.push_back(group);
    BP_ASSIGN_OR_RETURN(const auto groups, ReadMany<registry::Group>(source_, ids));
    for (const registry::Group& group : groups) {
      if (group.founder_kinships.empty()) continue;
      const registry::FounderRecord& stated = group.founder_kinships.back();
      if (stated.numerator == 0) continue;
      Relate(group.id, stated, origins[group.id]);
    }
    return absl::OkStatus();
  }

  void Relate(const GroupId& group, const registry::FounderRecord& stated, Origins& origins) {
    for (const kinship::Node node : origins.half_known) {
      const kinship::Node parent = AddNode({});
      kinship::Parents& parents = lines_.animals[node];
      (parents.sire == kinship::kUnknown ? parents.sire : parents.dam) = parent;
      origins.founders.push_back(parent);
    }
    assumptions_.push_back({.group = group, .stated = stated, .founders = origins.founders.size()});
    lines_.related.push_back(
        {.founders = std::move(origins.founders),
         .kinship = static_cast<double>(stated.numerator) / stated.denominator});
  }

  // The error of a pedigree that cannot be, with names for its numbers.
  absl::Status NamedCycle(const absl::Status& status) const {
    std::vector<AnimalId> line;
    for (const kinship::Node node : kinship::CycleIn(lines_.animals)) {
      line.push_back(animals_[node]);
    }
    if (line.empty()) return status;  // through a stand-in, or another error
    BP_ASSIGN_OR_RETURN(const auto animals, ReadMany<registry::Animal>(source_, line));
    std::vector<std::string> names;
    names.reserve(animals.size());
    for (const registry::Animal& animal : animals) {
      names.push_back(animal.name.empty() ? ToShortText(animal.id) : animal.name);
    }
    return Fail(absl::StatusCode::kInvalidArgument, "PEDIGREE_CYCLE",
                fmt::format("{} is its own ancestor, by the line {}; a sire or dam in it is wrong",
                            names.front(), fmt::join(names, ", ")));
  }

  // Finds the parents of the clutches that a generation was raised from, in three reads.
  absl::Status ReadClutches(const std::vector<registry::Animal>& generation) {
    std::vector<ClutchId> new_clutches;
    for (const registry::Animal& animal : generation) {
      const bool asked = !animal.clutch.empty() && (animal.sire.empty() || animal.dam.empty());
      if (asked && clutches_.emplace(animal.clutch, Brood{}).second) {
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
      Brood& brood = clutches_[clutch.id];
      brood.dam = clutch.female;
      brood.sires =
          registry::PossibleSires(*female->second, clutch.laying, pairings_of[clutch.female]);
      if (brood.sires.size() > 1) clutches_unsure_.insert(clutch.id);
    }
    return absl::OkStatus();
  }

  const registry::Source& source_;
  std::map<AnimalId, kinship::Node> nodes_;
  kinship::Lines lines_;
  std::vector<AnimalId> animals_;     // by node
  std::vector<kinship::Life> lives_;  // by node
  std::vector<GroupId> groups_;       // by node; empty where it stands in for several sires
  std::vector<FounderAssumption> assumptions_;
  std::map<ClutchId, Brood> clutches_;  // those read; the empty ids are not known
  std::size_t nodes_max_ = 0;
  std::set<ClutchId> clutches_unsure_;
  bool cut_off_ = false;
};

absl::StatusOr<Lineage> Lineage::Of(const registry::Source& source,
                                    std::span<const registry::Animal> animals) {
  return LineageReader(source).Read(animals);
}

std::vector<AnimalId> Lineage::possible_sires_at(kinship::Node node) const {
  std::vector<AnimalId> sires;
  for (const kinship::StandIn& stand_in : lines_.stand_ins) {
    if (stand_in.node != node) continue;
    for (const kinship::PossibleSire& sire : stand_in.possible) {
      sires.push_back(animals_[sire.animal]);
    }
  }
  return sires;
}

bool Lineage::parents_known(const AnimalId& animal) const {
  const kinship::Parents parents = parents_at(NodeOf(animal));
  const auto known = [&](kinship::Node parent) {
    return parent != kinship::kUnknown &&
           (!animals_[parent].empty() || !possible_sires_at(parent).empty());
  };
  return known(parents.sire) && known(parents.dam);
}

std::vector<std::string> TellAssumptions(const Lineage& lineage, RefBook& refs) {
  std::vector<std::string> sentences;
  for (const FounderAssumption& assumption : lineage.assumptions()) {
    const registry::FounderRecord& stated = assumption.stated;
    sentences.push_back(fmt::format(
        "assumed: {} founders of {} are kin by {}, as registrar {} stated{}", assumption.founders,
        refs.Name(assumption.group), FractionText(stated.numerator, stated.denominator),
        refs.Name(stated.entry.keeper), stated.reason.empty() ? "" : ": " + stated.reason));
  }
  return sentences;
}

namespace {

// Of so many animals at most each is named for an unknown parent; more are counted.
constexpr std::size_t kHalfKnownNamed = 3;

std::string_view Taken(const Lineage& lineage) {
  return lineage.assumptions().empty() ? "taken as unrelated" : "taken as a founder";
}

}  // namespace

std::vector<std::string> TellKin(const Lineage& lineage,
                                 const std::vector<registry::Animal>& animals, RefBook& refs) {
  std::vector<std::string> remarks;
  bool bound = false;
  std::vector<std::string> half_known;
  for (const registry::Animal& animal : animals) {
    if (!lineage.parents_known(animal.id)) half_known.push_back(animal.name);
  }
  if (half_known.size() > kHalfKnownNamed) {
    bound = true;
    remarks.push_back(fmt::format("a parent of {} of these animals is not known, and {}",
                                  half_known.size(), Taken(lineage)));
  } else {
    for (const std::string& name : half_known) {
      bound = true;
      remarks.push_back(fmt::format("a parent of {} is not known, and {}", name, Taken(lineage)));
    }
  }
  for (const ClutchId& clutch : lineage.clutches_unsure()) {
    remarks.push_back(fmt::format(
        "clutch {} may have several sires, each taken to be as likely: the numbers are means",
        refs.Name(clutch)));
  }
  for (std::string& sentence : TellAssumptions(lineage, refs)) {
    remarks.push_back(std::move(sentence));
  }
  if (lineage.cut_off()) {
    bound = true;
    remarks.push_back(fmt::format("only {} ancestors were looked at", kAncestorsMax));
  }
  if (bound) remarks.emplace_back("the true numbers may be higher");
  return remarks;
}

}  // namespace broodpact::replica
