#pragma once

// What keepers and registrars state about names and bounds of groups. Every act may fail with the
// errors of Replica::Act.

#include <string>
#include <vector>

#include "client/replica/acting.h"

namespace broodpact::replica {

absl::StatusOr<Acted> RecordName(Replica& replica, const facts::NameUse& use);

// Enters a group and moves these animals into it, in one commit.
absl::StatusOr<Made<GroupId>> SplitGroup(Replica& replica, facts::GroupEntry entry,
                                         const std::vector<AnimalId>& animals,
                                         const std::string& reason);

// What a merger comes to.
struct Merger {
  Acted acted{};  // of the last commit, which closes the group
  std::size_t animals = 0;
};

// Moves all animals of a group, living and dead, into its successor and closes it. Up to 3,000
// animals are one commit; before more of them, moves go ahead in commits of their own.
absl::StatusOr<Merger> MergeGroup(Replica& replica, const facts::GroupClosure& closure);

}  // namespace broodpact::replica
