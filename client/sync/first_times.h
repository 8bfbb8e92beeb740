#pragma once

// How a replica proves when commits first arrived, in a log that the server has lost since: by a
// head that was signed of that log, and one proof for a whole part of it.
//
// Method: the part is hashed onto the tree before it, and what comes out is proved to be the
// beginning of the head's tree (RFC 9162, section 2.1.4). A wrong tree before the part, or another
// time in it, gives another root.
//
// Pure, apart from what the nodes of a tree are read from.

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/statusor.h"

#include "client/base/merkle.h"
#include "client/sync/head.h"

namespace broodpact::sync {

struct FirstTimes {
  Head head;                  // of the lost log
  std::string tree_before{};  // of that log up to the part: MerkleFrontier::Encode
  std::vector<Hash> proof{};  // at most kMerkleProofHashesMax
};

// Proves it for the `count` arrivals that follow the first `before` ones of a log, as far as `head`
// reaches, which is of the same log; `nodes` are of its tree. Nothing where `head` reaches none.
// Errors: those of `nodes`.
absl::StatusOr<std::optional<FirstTimes>> ProveFirstTimes(const MerkleNodes& nodes,
                                                          const Head& head, std::uint64_t before,
                                                          std::uint64_t count);

// How many of the records (facts/arrival.h), from the first on, are arrivals of the log of the
// head, after `before` others, with the times that they name. Whose head it is, and its signature,
// is for the caller to look at.
// Errors: INVALID_ARGUMENT with reason PROOF_WRONG; those of ArrivalReader.
absl::StatusOr<std::uint64_t> CheckFirstTimes(std::uint64_t before, std::string_view records,
                                              const FirstTimes& times);

}  // namespace broodpact::sync
