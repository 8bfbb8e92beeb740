#pragma once

// In which order commits that wait are delivered, where they are of several devices: what one
// rests on goes before it, whoever wrote it.

#include <vector>

#include "client/replica/replica.h"
#include "client/sync/recovery.h"

namespace broodpact::replica {

// Commits that wait, in the order in which they are given, as parts to be delivered one after the
// other: whole runs, and each part about as large as a chunk of a session. One that only a later
// commit of its chain vouches for has that one right after it; where none does, it is left out.
std::vector<sync::LogPart> PartsOf(const std::vector<Replica::Undelivered>& waiting);

}  // namespace broodpact::replica
