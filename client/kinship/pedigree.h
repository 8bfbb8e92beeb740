#pragma once

// Who is kin: inbreeding and kinship from a pedigree, as probabilities of identity by descent.
//
// Kinship of two animals is the chance that a gene drawn from each is a copy of one and the same
// ancestral gene (Malecot, 1948); the inbreeding of an animal is the kinship of its parents
// (Wright, 1922). Unknown parents are taken as unrelated founders, each animal's as another one:
// the numbers are lower bounds. Clutch-mates that share one unknown sire need a founder in his
// place.
//
// Methods: inbreeding by Meuwissen & Luo, "Computing inbreeding coefficients in large
// populations", Genet. Sel. Evol. 24 (1992) 305-313, where few ancestors are met, and by whole rows
// of relationships where many are; those, and everything of one or of sets against all, by Colleau,
// "An indirect approach to the extensive calculation of relationship coefficients", Genet. Sel.
// Evol. 34 (2002) 409-421. No matrix is ever made.
//
// Pure. Floating point: nothing that replicas must agree on may depend on it.

#include <cstddef>
#include <span>
#include <vector>

#include "absl/status/statusor.h"

#include "client/kinship/internal/table.h"
#include "client/kinship/lines.h"
#include "client/kinship/parents.h"

namespace broodpact::kinship {

// Kinship of the animals of a set with the whole set, themselves counted in.
struct MeanKinship {
  std::vector<double> of_each{};  // in the order asked for
  double overall = 0;             // the mean of those
};

// A pedigree of n animals, numbered 0 .. n-1 as given, in whatever order. Threads may share it
// while nobody adds to it.
class Pedigree {
 public:
  // Fewer than kUnknown / 4 animals. An animal whose sire is its dam counts as selfed.
  //
  // Time: full sibs are computed once; a level of the pedigree costs a pass over the breeders of
  // all levels before it for each 8 sires in it.
  //
  // Errors: INVALID_ARGUMENT with reason PARENT_UNKNOWN (a number past the end), PEDIGREE_CYCLE (an
  // animal is its own ancestor; the message names a line by its numbers), STAND_IN_WRONG,
  // WEIGHTS_WRONG, FOUNDER_WRONG or BASE_KINSHIP_WRONG.
  static absl::StatusOr<Pedigree> Of(const Lines& lines);
  static absl::StatusOr<Pedigree> Of(std::vector<Parents> animals);

  std::size_t size() const { return table_.place_of.size(); }

  // 0 .. 1. `animal` < size(), as in all that follows.
  double Inbreeding(Node animal) const { return table_.InbreedingOf(animal); }

  // 0 .. 1; of an animal with itself: (1 + its inbreeding) / 2. Visits their ancestors only, but
  // takes memory in proportion to all breeders: for one against many, the others are cheaper from a
  // handful on.
  double Kinship(Node first, Node second) const;

  // Kinship of one with each of all, in their order. O(size).
  std::vector<double> KinshipWithAll(Node animal) const;

  // Kinship of each of `rows` with each of `columns`, row by row. A pass over all breeders for each
  // 8 rows.
  std::vector<double> KinshipBetween(std::span<const Node> rows,
                                     std::span<const Node> columns) const;

  // Mean kinship of a gene of one set with a gene of the other, animals in both with themselves
  // too. 0 if one is empty. Each animal at most once in each.
  double KinshipOfSets(std::span<const Node> first, std::span<const Node> second) const;

  // Each animal at most once. Of an empty set: zero. O(size).
  MeanKinship MeanKinshipOf(std::span<const Node> animals) const;

  // Adds `mates` animals with the same parents, numbered from size(), and returns the first number.
  // A walk over the ancestors of the parents.
  //
  // Errors: INVALID_ARGUMENT with reason PARENT_UNKNOWN.
  absl::StatusOr<Node> AddClutch(const Parents& parents, std::size_t mates);

  // For other files of this room.
  const Table& table() const { return table_; }

 private:
  explicit Pedigree(Table table) : table_(std::move(table)) {}

  Table table_;
};

}  // namespace broodpact::kinship
