#pragma once

// Whose genes a population still has: founders, what each gave, and how many equal ones that is
// worth.
//
// Definitions: Lacy, "Analysis of founder representation in pedigrees: founder equivalents and
// founder genome equivalents", Zoo Biology 8 (1989) 111-123. He gives founder genome equivalents
// twice over: from the mean kinship, which counts what drift has made alike, and from the retention
// of founder genes, which counts what is lost. They differ; each function says which it is.

#include <span>
#include <vector>

#include "client/kinship/parents.h"
#include "client/kinship/pedigree.h"

namespace broodpact::kinship {

struct Contribution {
  Node founder = kUnknown;
  double part = 0;  // of the genes of the population, above 0
};

struct Founders {
  std::vector<Contribution> known{};  // largest part first, then by number
  double unknown = 0;                 // part that comes from unknown parents
  // Effective number of founders, 1 / sum of the squared parts: how many that gave equally would be
  // as even. Each unknown parent counts as a founder of its own. 0 for no population.
  double equivalents = 0;
};

// A founder is an animal without a known parent. Each animal of the population at most once.
Founders FoundersOf(const Pedigree& pedigree, std::span<const Node> population);

// Expected part of a founder's two gene copies that the population still has.
struct Retention {
  Node founder = kUnknown;
  double part = 0;  // 0 .. 1
};

// 1 - mean kinship: the chance that two genes drawn from the population are not alike by descent.
double GeneDiversity(const MeanKinship& kinship);

// Founder genome equivalents from mean kinship, 1 / (2 mean kinship). 0 for no population.
double GenomeEquivalentsByKinship(const MeanKinship& kinship);

// Founder genome equivalents from retention, 1 / sum(p^2 / r) over the known founders. 0 if there
// are none, or one with a part has no retention above 0.
double GenomeEquivalentsByRetention(const Founders& founders, std::span<const Retention> retention);

// How many founder genomes survive: the sum of the retentions.
double GenomesSurviving(std::span<const Retention> retention);

}  // namespace broodpact::kinship
