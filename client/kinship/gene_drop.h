#pragma once

// What chance does to founder genes: who carries what nobody else has, and what is still there.
//
// Method: gene drop (MacCluer, VandeBerg, Read & Ryder, "Pedigree analysis by computer simulation",
// Zoo Biology 5 (1986) 147-160): every founder gets two genes of its own, which are handed down the
// pedigree at random, many times over. Random numbers are made here from the seed by SplitMix64
// (Steele, Lea & Flood, OOPSLA 2014) as a function of seed, drop and animal, in whole numbers: the
// result is the same on every machine.
//
// Founders are dropped as unrelated, whatever kinship Lines::related gives them. A stand-in drawn
// once for all is one of the males in each drop; one drawn for each may be another for each animal.

#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "client/kinship/founders.h"
#include "client/kinship/parents.h"
#include "client/kinship/pedigree.h"

namespace broodpact::kinship {

struct DropOptions {
  std::uint64_t seed = 1;
  std::uint32_t drops = 1'000;  // above 0; the standard error is at most 1 / (2 sqrt(drops))
};

struct GeneDrop {
  // For each of the population, in its order: the expected part of its two gene copies that no
  // other of the population carries. 0 .. 1.
  std::vector<double> uniqueness{};
  std::vector<Retention> retention{};  // of every founder, by number
};

// Each animal of the population at most once.
GeneDrop DropGenes(const Pedigree& pedigree, std::span<const Node> population,
                   const DropOptions& options);

// Meioses below one founder that ExactRetention goes through all ways of.
inline constexpr std::size_t kMeiosesMax = 16;

// Retention of every founder, by number, from all ways in which its genes may have been handed
// down. Nothing if there are too many of them, or several possible sires: drop genes then.
std::optional<std::vector<Retention>> ExactRetention(const Pedigree& pedigree,
                                                     std::span<const Node> population);

}  // namespace broodpact::kinship
