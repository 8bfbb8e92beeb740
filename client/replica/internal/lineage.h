#pragma once

// The ancestors of some animals as a pedigree: what kinship is computed over.

#include <map>
#include <optional>
#include <set>
#include <span>
#include <string>
#include <vector>

#include "absl/status/statusor.h"

#include "client/kinship/pedigree.h"
#include "client/registry/state.h"
#include "client/registry/subject.h"

namespace broodpact::replica {

// Ancestors that are looked at: more than a line of slow breeders gathers, and a bound on one call.
inline constexpr std::size_t kAncestorsMax = 20'000;

// An animal raised from a clutch has the clutch's mother as dam, and as sire the only male that may
// be it; where several may, the sire is taken as unknown.
class Lineage {
 public:
  // Reads the ancestors of `animals`, a generation at a time.
  // Errors: those of the source and of Pedigree::Of.
  static absl::StatusOr<Lineage> Of(const registry::Source& source,
                                    std::span<const registry::Animal> animals);

  const kinship::Pedigree& pedigree() const { return pedigree_; }

  // Place in the pedigree. The animal is one of those asked for.
  kinship::Node NodeOf(const AnimalId& animal) const { return nodes_.at(animal); }

  // What the numbers rest on, for one of the animals asked for.
  bool parents_known(const AnimalId& animal) const;
  // Clutches among the ancestors with several possible sires, taken as of unknown sire.
  const std::set<ClutchId>& clutches_unsure() const { return clutches_unsure_; }
  // Whether the bound cut the pedigree off.
  bool cut_off() const { return cut_off_; }

 private:
  explicit Lineage(kinship::Pedigree pedigree) : pedigree_(std::move(pedigree)) {}
  friend class LineageReader;

  kinship::Pedigree pedigree_;
  std::map<AnimalId, kinship::Node> nodes_;
  std::vector<kinship::Parents> parents_;
  std::set<ClutchId> clutches_unsure_;
  bool cut_off_ = false;
};

}  // namespace broodpact::replica
