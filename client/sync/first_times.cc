#include "client/sync/first_times.h"

#include <algorithm>

#include "client/base/merkle_proof.h"
#include "client/base/status.h"
#include "client/facts/arrival.h"

namespace broodpact::sync {
namespace {

absl::Status UnprovenError() {
  return Fail(absl::StatusCode::kInvalidArgument, "PROOF_WRONG",
              "it is not proved that these commits had arrived at these times; deliver them "
              "without the head, to arrive as new");
}

}  // namespace

absl::StatusOr<std::optional<FirstTimes>> ProveFirstTimes(const MerkleNodes& nodes,
                                                          const Head& head, std::uint64_t before,
                                                          std::uint64_t count) {
  const std::uint64_t end = std::min(before + count, head.point.arrivals);
  if (end <= before) return std::optional<FirstTimes>();
  FirstTimes times{.head = head};
  BP_ASSIGN_OR_RETURN(const MerkleFrontier tree, MerkleFrontier::Read(nodes, before));
  times.tree_before = tree.Encode();
  BP_ASSIGN_OR_RETURN(times.proof, ConsistencyProof(nodes, end, head.point.arrivals));
  return std::optional<FirstTimes>(std::move(times));
}

absl::StatusOr<std::uint64_t> CheckFirstTimes(std::uint64_t before, std::string_view records,
                                              const FirstTimes& times) {
  absl::StatusOr<MerkleFrontier> tree = MerkleFrontier::Decode(times.tree_before);
  if (!tree.ok() || tree->size() != before) return UnprovenError();
  const std::uint64_t end = times.head.point.arrivals;
  facts::ArrivalReader reader(records);
  while (!reader.at_end() && tree->size() < end) {
    BP_ASSIGN_OR_RETURN(const facts::ArrivalView arrival, reader.Next());
    BP_RETURN_IF_ERROR(tree->Append(facts::LogLeafHash(arrival)));
  }
  const MerkleHead grown{.size = tree->size(), .root = tree->Root()};
  const MerkleHead whole{.size = end, .root = times.head.tree_root};
  if (!VerifyConsistency(grown, whole, times.proof).ok()) return UnprovenError();
  return tree->size() - before;
}

}  // namespace broodpact::sync
