#pragma once

// In which order commits that wait are delivered and handed on, where they are of several devices:
// what one rests on goes before it, whoever wrote it, and what vouches for one right after it.

#include <vector>

#include "client/replica/replica.h"
#include "client/sync/recovery.h"

namespace broodpact::replica {

// Commits of one chain that follow on each other, of which the last alone is signed.
using WaitingRun = std::vector<const Replica::Undelivered*>;

// Commits that wait, as whole runs, in the order in which the first of each is given. One that no
// later commit of its chain vouches for is left out. The runs point into `waiting`.
std::vector<WaitingRun> RunsOf(const std::vector<Replica::Undelivered>& waiting);

// The same runs as parts to be delivered one after the other, each about as large as a chunk of a
// session.
std::vector<sync::LogPart> PartsOf(const std::vector<Replica::Undelivered>& waiting);

}  // namespace broodpact::replica
