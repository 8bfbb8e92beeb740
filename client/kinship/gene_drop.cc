#include "client/kinship/gene_drop.h"

#include <array>
#include <cstddef>

#include "client/kinship/internal/slots.h"

namespace broodpact::kinship {
namespace {

constexpr std::uint64_t kGolden = 0x9E37'79B9'7F4A'7C15;

std::uint64_t Mixed(std::uint64_t state) {
  state = (state ^ (state >> 30)) * 0xBF58'476D'1CE4'E5B9;
  state = (state ^ (state >> 27)) * 0x94D0'49BB'1331'11EB;
  return state ^ (state >> 31);
}

// The random numbers of one slot in one drop.
class Dice {
 public:
  explicit Dice(std::uint64_t state) : state_(state) {}

  std::size_t Side() { return Next() >> 63; }

  // Whether something with this chance comes to pass. 53 bits are what a double can tell apart.
  bool Hits(double chance) { return static_cast<double>(Next() >> 11) * 0x1p-53 < chance; }

 private:
  std::uint64_t Next() {
    state_ += kGolden;
    return Mixed(state_);
  }

  std::uint64_t state_;
};

// Genes are numbered by where they began: two for each slot. Where a parent is unknown, the gene of
// that side begins there.
using Gene = std::uint32_t;

class Drop {
 public:
  Drop(const Table& table, const Slots& slots)
      : table_(table), slots_(slots), genes_(slots.strands.size()) {}

  void Run(std::uint64_t seed, std::uint32_t drop) {
    for (Node slot = 1; slot < genes_.size(); ++slot) {
      Dice dice(Mixed(Mixed(seed + kGolden * drop) ^ slot));
      const Strand& strand = slots_.strands[slot];
      switch (KindOf(slot)) {
        case PlaceKind::kAnimal:
          genes_[slot] = {GeneFrom(strand.first, slot, 0, dice),
                          GeneFrom(strand.second, slot, 1, dice)};
          break;
        case PlaceKind::kOneForAll: {
          const Node one = OneOf(slot, dice);
          genes_[slot] = one == kNobody ? std::array<Gene, 2>{2 * slot, 2 * slot + 1} : genes_[one];
          break;
        }
        case PlaceKind::kOneForEach:
        case PlaceKind::kRest:
        case PlaceKind::kBase:
          break;
      }
    }
  }

  const std::array<Gene, 2>& at(Node slot) const { return genes_[slot]; }

 private:
  PlaceKind KindOf(Node slot) const {
    return slot < table_.kinds.size() ? table_.kinds[slot] : PlaceKind::kAnimal;
  }

  // Which of the possible sires of a stand-in it is this time; nobody: an unknown founder.
  Node OneOf(Node slot, Dice& dice) const {
    for (;;) {
      const Strand& strand = slots_.strands[slot];
      const Node from = dice.Hits(strand.first_part) ? strand.first : SecondOf(strand, dice);
      if (from == kNobody || KindOf(from) != PlaceKind::kRest) return from;
      slot = from;
    }
  }

  // The second, when it is known not to be the first.
  static Node SecondOf(const Strand& strand, Dice& dice) {
    const double left = 1 - strand.first_part;
    return left > 0 && dice.Hits(strand.second_part / left) ? strand.second : kNobody;
  }

  Gene GeneFrom(Node parent, Node slot, Gene side, Dice& dice) const {
    if (parent != kNobody && KindOf(parent) == PlaceKind::kOneForEach) {
      parent = OneOf(parent, dice);
    }
    return parent == kNobody ? 2 * slot + side : genes_[parent][dice.Side()];
  }

  const Table& table_;
  const Slots& slots_;
  std::vector<std::array<Gene, 2>> genes_;
};

// What is left of the genes, counted over drops.
class Survivors {
 public:
  explicit Survivors(const Slots& slots)
      : slots_(slots),
        carriers_(2 * slots.strands.size()),
        unique_(slots.of_population.size()),
        retained_(slots.founder_slots.size()) {}

  void Count(const Drop& drop) {
    CountCarriers(drop);
    for (std::size_t k = 0; k < unique_.size(); ++k) {
      for (const Gene gene : drop.at(slots_.of_population[k])) {
        unique_[k] += carriers_[gene] == 1 ? 1U : 0U;
      }
    }
    for (std::size_t k = 0; k < retained_.size(); ++k) {
      const std::size_t gene = 2 * std::size_t{slots_.founder_slots[k]};
      retained_[k] += (carriers_[gene] > 0 ? 1U : 0U) + (carriers_[gene + 1] > 0 ? 1U : 0U);
    }
    for (const Node slot : slots_.of_population) {
      for (const Gene gene : drop.at(slot)) carriers_[gene] = 0;
    }
  }

  GeneDrop PartsOf(std::uint32_t drops) const {
    GeneDrop result;
    const double copies = 2.0 * drops;
    result.uniqueness.reserve(unique_.size());
    for (const std::uint64_t count : unique_) {
      result.uniqueness.push_back(static_cast<double>(count) / copies);
    }
    result.retention.reserve(retained_.size());
    for (std::size_t k = 0; k < retained_.size(); ++k) {
      result.retention.push_back({.founder = slots_.founder_numbers[k],
                                  .part = static_cast<double>(retained_[k]) / copies});
    }
    return result;
  }

 private:
  void CountCarriers(const Drop& drop) {
    for (const Node slot : slots_.of_population) {
      const auto& [first, second] = drop.at(slot);
      ++carriers_[first];
      if (second != first) ++carriers_[second];
    }
  }

  const Slots& slots_;
  std::vector<std::uint32_t> carriers_;  // by gene; zeros between two drops
  std::vector<std::uint64_t> unique_;    // copies, over all drops
  std::vector<std::uint64_t> retained_;
};

}  // namespace

GeneDrop DropGenes(const Pedigree& pedigree, std::span<const Node> population,
                   const DropOptions& options) {
  const Slots slots = SlotsOf(pedigree.table(), population);
  Drop drop(pedigree.table(), slots);
  Survivors survivors(slots);
  for (std::uint32_t i = 0; i < options.drops; ++i) {
    drop.Run(options.seed, i);
    survivors.Count(drop);
  }
  return survivors.PartsOf(options.drops);
}

}  // namespace broodpact::kinship
