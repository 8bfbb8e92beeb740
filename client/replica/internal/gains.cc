#include "client/replica/internal/gains.h"

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/registry/index.h"
#include "client/replica/internal/bulk.h"

namespace broodpact::replica {

absl::StatusOr<std::vector<registry::Animal>> LivingForGains(const registry::Source& source,
                                                             const GroupId& group) {
  BP_ASSIGN_OR_RETURN(
      const std::vector<AnimalId> ids,
      IdsBehind<AnimalId>(source, registry::AnimalsOfGroup(group), kGainAnimalsMax + 1));
  std::vector<registry::Animal> living;
  if (ids.size() > kGainAnimalsMax) return living;
  BP_ASSIGN_OR_RETURN(living, ReadMany<registry::Animal>(source, ids));
  std::erase_if(living, [](const registry::Animal& one) { return one.death.has_value(); });
  return living;
}

std::map<AnimalId, double> GainsOf(const Lineage& lineage, std::span<const AnimalId> living,
                                   const AnimalId& mate) {
  std::map<AnimalId, double> gains;
  if (living.empty()) return gains;
  std::vector<kinship::Node> nodes;
  nodes.reserve(living.size());
  for (const AnimalId& one : living) nodes.push_back(lineage.NodeOf(one));
  const kinship::Pedigree& pedigree = lineage.pedigree();
  const kinship::MeanKinship means = pedigree.MeanKinshipOf(nodes);
  const std::vector<double> of_mate = pedigree.KinshipWithAll(lineage.NodeOf(mate));
  double mate_mean = 0;
  for (const kinship::Node node : nodes) mate_mean += of_mate[node];
  mate_mean /= static_cast<double>(nodes.size());
  for (std::size_t i = 0; i < living.size(); ++i) {
    gains[living[i]] = means.overall - (means.of_each[i] + mate_mean) / 2;
  }
  return gains;
}

std::string NoGain() {
  return fmt::format(
      "gain in gene diversity: not computed in a group of more than {} animals; `broodpact plan` "
      "does",
      kGainAnimalsMax);
}

}  // namespace broodpact::replica
