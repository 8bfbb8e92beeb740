#pragma once

// A cooperative of any size, made up and always the same: commits of many devices in the order of
// their arrival, in about the proportions of a real year. Input for benches and long runs.
//
// Method: a seeded generator (SplitMix64; Steele, Lea & Flood, 2014) plays keepers who enter
// animals, moult them, mature, lend, pair, lay, count, split and hand over, and keeps just enough
// of the state to state only what counts. Keys come from seeds; commits arrive in runs of one
// device, and each run ends with a signature, as after a push.

#include <cstdint>
#include <functional>
#include <string>
#include <vector>

#include "client/base/hash.h"
#include "client/base/signature.h"

namespace broodpact::bench {

// How large, and of what.
struct Shape {
  std::uint64_t commits = 100'000;
  std::uint32_t keepers = 100;
  std::uint32_t groups = 200;
  // Commits in ten thousand that enter an animal. The rest follows life.
  std::uint32_t entries_per_10000 = 4'500;
  // Animals that one such commit enters: more make many animals in few commits.
  std::uint32_t animals_an_entry = 1;
  // Invitations at the end of the log that nobody has spent.
  std::uint32_t open_invitations = 1;
  std::uint64_t seed = 1;
};

// A generated log.
struct GeneratedLog {
  Hash cooperative{};
  std::string founding;            // records of arrival 1 (client/facts/arrival.h)
  std::string records;             // of the others
  std::uint64_t arrivals = 0;      // all of them
  std::uint64_t commit_bytes = 0;  // of all commits
  std::uint64_t animals = 0;
  std::vector<std::string> open_secrets;  // of the invitations that nobody has spent
  std::string busiest_group;              // name of the group with the most animals
  std::string some_female;                // name of a female in it, as "keeper/name"
};

// Seed of the founder's device key, and name.
std::string FounderSeed(std::uint64_t seed);
inline constexpr char kFounderName[] = "iva";

GeneratedLog Generate(const Shape& shape);

}  // namespace broodpact::bench
