#pragma once

// What came of pairings, as the cooperative knows it: by group, else by genus, else the prior of
// the trade's table.

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "absl/status/statusor.h"

#include "client/base/day.h"
#include "client/registry/state.h"
#include "client/registry/subject.h"
#include "client/survival/expectations.h"
#include "client/survival/incidence.h"
#include "client/survival/proportion.h"

namespace broodpact::replica {

// With fewer pairings, or no sac among them, the cooperative's own data say nothing.
inline constexpr std::uint32_t kPairedMin = 5;
inline constexpr std::uint32_t kSacsMin = 1;

// Females that are looked through for pairings: far more than a group has, so that the bound, which
// keeps one question quick, leaves none out.
inline constexpr std::size_t kFemalesMax = 10'000;

// What a pairing may come to. The numbers are those of survival::Course.
enum class PairingEnd : std::uint32_t { kSac = 0, kMoult = 1, kDeath = 2 };
inline constexpr std::uint32_t kPairingEnds = 3;

// What a sac may come to. A sac that is pulled goes on without its mother, and comes to one of the
// others then.
enum class SacEnd : std::uint32_t {
  kHatched = 0,
  kEaten = 1,
  kInfertile = 2,
  kOther = 3,
  kPulled = 4
};
inline constexpr std::uint32_t kPulledSacEnds = 4;
inline constexpr std::uint32_t kSacEnds = 5;

// Cases of some females. A female's time between two moults in which she was paired is one case,
// from its first pairing; days that are not known exactly are the middles of their spans.
struct BreedingCases {
  std::vector<survival::Course> pairings{};
  std::vector<survival::Course> sacs{};         // with the mother, from laying
  std::vector<survival::Course> pulled_sacs{};  // from pulling
};

// Reads what became of the pairings of a group's females, watched up to `today`.
absl::StatusOr<BreedingCases> CasesOfGroup(const registry::Source& source, const GroupId& group,
                                           Day today);

// Cases to go by: those of the group, or, where too few of its pairings ended, of its genus.
struct KnownCases {
  BreedingCases cases{};
  std::string whose = "group";  // or "genus"
};
absl::StatusOr<KnownCases> KnownCasesOf(const registry::Source& source,
                                        const registry::Group& group, Day today);

// The cause of a sac's loss, as far as its words tell.
SacEnd SacEndOf(const std::string& cause);

// The chance that a pairing leads to a sac with living slings, and what it rests on.
struct SacChance {
  double share = 1;
  std::string basis{};  // "of 12 pairings, 7 gave a sac ...", "prior, from memory: ..."
};

// For a group; where its own cases are too few, for its genus; else by the table; nothing where
// that has none.
absl::StatusOr<std::optional<SacChance>> SacChanceOf(const registry::Source& source,
                                                     const registry::Group& group, Day today,
                                                     const survival::Expectations& expectations);

}  // namespace broodpact::replica
