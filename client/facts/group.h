#pragma once

// Statements about breeding groups, as values: part of statement.h.

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "client/base/day.h"
#include "client/base/id.h"

namespace broodpact::facts {

// Animals that one statement moves at most.
inline constexpr std::size_t kAnimalsMovedMax = 1'024;

enum class NameStatus : std::uint8_t {
  kUnspecified = 0,
  kAccepted = 1,
  kSynonym = 2,
  kNewCombination = 3,
  kMisapplied = 4,
  kTradeName = 5
};

struct GroupEntry {
  GroupId group{};
  std::string name{};
  std::string taxon{};
  std::string locality{};
  std::string line{};

  friend bool operator==(const GroupEntry&, const GroupEntry&) = default;
};
struct NameUse {
  GroupId group{};
  std::string name{};
  NameStatus status = NameStatus::kUnspecified;
  std::optional<DaySpan> since{};
  std::string source{};

  friend bool operator==(const NameUse&, const NameUse&) = default;
};
struct GroupMove {
  GroupId group{};  // where they go
  std::vector<AnimalId> animals{};
  std::string reason{};

  friend bool operator==(const GroupMove&, const GroupMove&) = default;
};
struct GroupClosure {
  GroupId group{};
  GroupId successor{};
  std::string reason{};

  friend bool operator==(const GroupClosure&, const GroupClosure&) = default;
};
// Bound of the fraction.
inline constexpr std::uint32_t kKinshipDenominatorMax = 10'000;

// How close founders of a group are taken to be: the fraction is 0 .. 1/2.
struct FounderKinship {
  GroupId group{};
  std::uint32_t numerator = 0;
  std::uint32_t denominator = 1;
  std::string reason{};

  friend bool operator==(const FounderKinship&, const FounderKinship&) = default;
};

}  // namespace broodpact::facts
