// Retention of founder genes without chance: all ways in which one gene may be handed down.

#include <array>
#include <cstddef>

#include "client/kinship/gene_drop.h"
#include "client/kinship/internal/slots.h"

namespace broodpact::kinship {
namespace {

// All who may have a gene of one founder, in order of descent.
struct Descent {
  struct Heir {
    Node slot = kNobody;
    std::array<Node, 2> parents{};  // kNobody where that side cannot have it
  };
  std::vector<Heir> heirs{};
  std::size_t meioses = 0;
  bool plain = true;  // no stand-in among them
};

Descent DescentOf(Node founder, const Table& table, const Slots& slots) {
  Descent descent;
  std::vector<char> reached(slots.strands.size());
  reached[founder] = 1;
  for (Node slot = founder + 1; slot < slots.strands.size(); ++slot) {
    const Strand& strand = slots.strands[slot];
    Descent::Heir heir{.slot = slot};
    if (reached[strand.first] != 0) heir.parents[0] = strand.first;
    if (reached[strand.second] != 0) heir.parents[1] = strand.second;
    if (heir.parents == std::array<Node, 2>{}) continue;
    reached[slot] = 1;
    if (slot < table.kinds.size() && table.kinds[slot] != PlaceKind::kAnimal) {
      descent.plain = false;
    }
    descent.heirs.push_back(heir);
    for (const Node parent : heir.parents) descent.meioses += parent != kNobody ? 1 : 0;
  }
  return descent;
}

// Whether the population has the founder's first gene, when bit i of `ways` says which of a
// parent's two genes is handed on in the i-th meiosis. `has` is by slot: bit 0 and 1 for its genes.
bool IsRetained(const Descent& descent, std::uint32_t ways, std::span<const char> in_population,
                Node founder, std::vector<char>& has) {
  has[founder] = 1;
  bool retained = in_population[founder] != 0;
  for (const Descent::Heir& heir : descent.heirs) {
    char genes = 0;
    for (std::size_t side = 0; side < 2; ++side) {
      if (heir.parents[side] == kNobody) continue;
      const int handed_on = has[heir.parents[side]] >> (ways & 1) & 1;
      genes = static_cast<char>(genes | handed_on << side);
      ways >>= 1;
    }
    has[heir.slot] = genes;
    retained = retained || (genes != 0 && in_population[heir.slot] != 0);
  }
  return retained;
}

}  // namespace

std::optional<std::vector<Retention>> ExactRetention(const Pedigree& pedigree,
                                                     std::span<const Node> population) {
  const Slots slots = SlotsOf(pedigree.table(), population);
  std::vector<char> in_population(slots.strands.size());
  for (const Node slot : slots.of_population) in_population[slot] = 1;
  std::vector<char> has(slots.strands.size());
  std::vector<Retention> result;
  for (std::size_t k = 0; k < slots.founder_slots.size(); ++k) {
    const Node founder = slots.founder_slots[k];
    const Descent descent = DescentOf(founder, pedigree.table(), slots);
    if (!descent.plain || descent.meioses > kMeiosesMax) return std::nullopt;
    std::uint32_t retained = 0;
    const std::uint32_t ways = 1U << descent.meioses;
    for (std::uint32_t way = 0; way < ways; ++way) {
      if (IsRetained(descent, way, in_population, founder, has)) ++retained;
    }
    result.push_back({.founder = slots.founder_numbers[k],
                      .part = static_cast<double>(retained) / static_cast<double>(ways)});
  }
  return result;
}

}  // namespace broodpact::kinship
