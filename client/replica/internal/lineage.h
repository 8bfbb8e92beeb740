#pragma once

// The ancestors of some animals as a pedigree: what kinship is computed over.

#include <map>
#include <optional>
#include <set>
#include <span>
#include <string>
#include <vector>

#include "absl/status/statusor.h"

#include "client/kinship/contradiction.h"
#include "client/kinship/pedigree.h"
#include "client/registry/state.h"
#include "client/registry/subject.h"
#include "client/replica/internal/ref_book.h"

namespace broodpact::replica {

// Ancestors that are looked at beyond the animals asked for: more than a line of slow breeders
// gathers, and a bound on one call.
inline constexpr std::size_t kAncestorsMax = 20'000;

// Founders of a group, animals without known parents and parents that are not known, that a
// registrar says are to be taken as kin.
struct FounderAssumption {
  GroupId group{};
  registry::FounderRecord stated{};
  std::size_t founders = 0;  // in this pedigree
};

// An animal raised from a clutch has the clutch's mother as dam, and as sire the male that may be
// it. Where several may, one of them sired the whole clutch, each with the same chance (what the
// registry knows of sperm use is no better); where none is known, an unknown founder did.
//
// Founders are unrelated to each other, unless a registrar has stated for their group how close
// they are to be taken: then all of the group are, those that nobody knows among them.
class Lineage {
 public:
  // Reads the ancestors of `animals`, a generation at a time.
  // Errors: those of the source; INVALID_ARGUMENT with reason PEDIGREE_CYCLE, naming the animals.
  static absl::StatusOr<Lineage> Of(const registry::Source& source,
                                    std::span<const registry::Animal> animals);

  const kinship::Pedigree& pedigree() const { return pedigree_; }

  // Place in the pedigree. The animal is one of those asked for, or an ancestor.
  kinship::Node NodeOf(const AnimalId& animal) const { return nodes_.at(animal); }
  // Empty where the place is no animal's.
  const AnimalId& animal_at(kinship::Node node) const { return animals_[node]; }
  kinship::Parents parents_at(kinship::Node node) const { return lines_.animals[node]; }
  // The males that a place stands in for, where it is no animal's. Empty: an unknown founder.
  std::vector<AnimalId> possible_sires_at(kinship::Node node) const;

  // What is known of each animal's life, by node: what can be wrong with a pedigree.
  const std::vector<kinship::Life>& lives() const { return lives_; }
  const std::vector<kinship::Parents>& parents() const { return lines_.animals; }

  // What the numbers rest on, for one of the animals asked for.
  bool parents_known(const AnimalId& animal) const;
  // Clutches among the ancestors with several possible sires.
  const std::set<ClutchId>& clutches_unsure() const { return clutches_unsure_; }
  // By group.
  const std::vector<FounderAssumption>& assumptions() const { return assumptions_; }
  // Whether the bound cut the pedigree off.
  bool cut_off() const { return cut_off_; }

 private:
  explicit Lineage(kinship::Pedigree pedigree) : pedigree_(std::move(pedigree)) {}
  friend class LineageReader;

  kinship::Pedigree pedigree_;
  kinship::Lines lines_;
  std::map<AnimalId, kinship::Node> nodes_;
  std::vector<AnimalId> animals_;     // by node
  std::vector<kinship::Life> lives_;  // by node
  std::set<ClutchId> clutches_unsure_;
  std::vector<FounderAssumption> assumptions_;
  bool cut_off_ = false;
};

// What a registrar had assumed about founders, a sentence each: to be shown with every number that
// rests on it.
std::vector<std::string> TellAssumptions(const Lineage& lineage, RefBook& refs);

// What kinships of a few animals rest on, a sentence each: unknown parents, several possible sires,
// assumptions about founders, ancestors that were left out.
std::vector<std::string> TellKin(const Lineage& lineage,
                                 const std::vector<registry::Animal>& animals, RefBook& refs);

}  // namespace broodpact::replica
