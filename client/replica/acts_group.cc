#include "client/replica/acts_group.h"

#include <algorithm>
#include <span>

#include "client/registry/index.h"
#include "client/replica/internal/bulk.h"

namespace broodpact::replica {
namespace {

constexpr std::size_t kAnimalsMax = 1'000'000;  // all animals of the largest cooperative
constexpr std::size_t kMovesMax = 3;            // of 1,024 animals each, in 65,536 bytes

facts::GroupMove MoveOf(std::span<const AnimalId> animals, const GroupId& to,
                        const std::string& reason) {
  return {.group = to, .animals = {animals.begin(), animals.end()}, .reason = reason};
}

std::vector<facts::Statement> MovesOf(std::span<const AnimalId> animals, const GroupId& to,
                                      const std::string& reason) {
  std::vector<facts::Statement> moves;
  while (!animals.empty()) {
    const auto part = animals.first(std::min(animals.size(), facts::kAnimalsMovedMax));
    moves.emplace_back(MoveOf(part, to, reason));
    animals = animals.subspan(part.size());
  }
  return moves;
}

}  // namespace

absl::StatusOr<Acted> RecordName(Replica& replica, const facts::NameUse& use) {
  if (use.since) BP_RETURN_IF_ERROR(CheckHasCome(replica, *use.since));
  return replica.Act({use});
}

absl::StatusOr<Made<GroupId>> SplitGroup(Replica& replica, facts::GroupEntry entry,
                                         const std::vector<AnimalId>& animals,
                                         const std::string& reason) {
  if (animals.size() > kMovesMax * facts::kAnimalsMovedMax) {
    return Fail(
        absl::StatusCode::kInvalidArgument, "USAGE",
        fmt::format("{} animals are too many for one commit; split with fewer", animals.size()));
  }
  entry.group = device::FreshId<GroupId>(replica.randomness());
  const GroupId id = entry.group;
  std::vector<facts::Statement> statements{std::move(entry)};
  std::vector<facts::Statement> moves = MovesOf(animals, id, reason);
  std::ranges::move(moves, std::back_inserter(statements));
  BP_ASSIGN_OR_RETURN(Acted acted, replica.Act(statements));
  return Made<GroupId>{.id = id, .acted = std::move(acted)};
}

absl::StatusOr<Merger> MergeGroup(Replica& replica, const facts::GroupClosure& closure) {
  BP_ASSIGN_OR_RETURN(
      std::vector<AnimalId> animals,
      IdsBehind<AnimalId>(replica.view(), registry::AnimalsOfGroup(closure.group), kAnimalsMax));
  std::ranges::sort(animals);
  Merger merger{.animals = animals.size()};
  std::vector<facts::Statement> moves = MovesOf(animals, closure.successor, closure.reason);
  while (moves.size() > kMovesMax) {
    const auto end = moves.begin() + kMovesMax;
    BP_RETURN_IF_ERROR(replica.Act({moves.begin(), end}).status());
    moves.erase(moves.begin(), end);
  }
  moves.emplace_back(closure);
  BP_ASSIGN_OR_RETURN(merger.acted, replica.Act(moves));
  return merger;
}

}  // namespace broodpact::replica
