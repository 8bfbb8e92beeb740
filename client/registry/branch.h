#pragma once

// What the fold keeps of the commits of a chain: the other branches of forks, and which commits
// count. Part of subject.h.
//
// Order of members is the order of the encoding (encode.h).

#include <cstdint>
#include <vector>

#include "client/registry/member.h"

namespace broodpact::registry {

// A commit of a fork's other branch, as its device stated it again: both are in the log, signed.
struct Branch {
  static constexpr Kind kKind = Kind::kBranch;
  IdBytes id{};  // first half of `commit`
  DeviceId device{};
  std::uint32_t incarnation = 0;  // its place, where another commit stands
  std::uint64_t seq = 0;
  Hash commit{};
  Entry entry{};

  friend bool operator==(const Branch&, const Branch&) = default;
};

// A commit that arrived by itself and counts.
struct CountedCommit {
  Token token{};
  std::uint64_t arrival = 0;

  friend bool operator==(const CountedCommit&, const CountedCommit&) = default;
};

// Some places of a chain, and which commits of them count: none does twice, by whatever way and in
// whatever order it comes.
struct Stretch {
  static constexpr Kind kKind = Kind::kStretch;
  // First half of SHA-256(device, "stretch", life, seq / kStretchPlaces); numbers as varints.
  IdBytes id{};
  std::vector<CountedCommit> counted{};  // by themselves, in order of arrival
  std::uint64_t told = 0;                // as branches; while 0, nobody has to look for one

  friend bool operator==(const Stretch&, const Stretch&) = default;
};

}  // namespace broodpact::registry
