#pragma once

// What a pedigree is made from: animals with their parents, and what is known less exactly.

#include <cstdint>
#include <vector>

#include "client/kinship/parents.h"

namespace broodpact::kinship {

// Whether the offspring of one stand-in share their sire. The two differ in how close clutch-mates
// are: with two unrelated males of even chance, their kinship is 1/4 or 3/16.
enum class Draw : std::uint8_t {
  // One of the males, nobody knows which, sired all: a clutch after several pairings. Relationships
  // are the average over the males.
  kOneForAll,
  // Each offspring has a sire of its own draw: mixed sperm. This is the average relationship matrix
  // of Henderson, "Use of an average numerator relationship matrix for multiple-sire joining", J.
  // Anim. Sci. 66 (1988) 1614-1621.
  kOneForEach,
};

struct PossibleSire {
  Node animal = kUnknown;
  double weight = 0;  // chance, 0 .. 1
};

// A number that is no animal: it takes the place of a sire of whom only the possible ones are
// known. What the weights lack to 1 is the chance of an unknown founder.
struct StandIn {
  Node node = kUnknown;  // has no parents in Lines::animals
  std::vector<PossibleSire> possible{};
  Draw draw = Draw::kOneForAll;
};

// Founders that are taken as related to each other, and not inbred.
struct RelatedFounders {
  std::vector<Node> founders{};  // each without known parents, and in one such list at most
  double kinship = 0;            // of any two of them, 0 .. 1/2
};

struct Lines {
  std::vector<Parents> animals{};  // by number, in whatever order
  std::vector<StandIn> stand_ins{};
  std::vector<RelatedFounders> related{};
};

}  // namespace broodpact::kinship
