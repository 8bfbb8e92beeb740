#pragma once

// What a commit states, for the first time or again: a restatement stands for the statements of the
// commit that it states again.
//
// Pure.

#include <vector>

#include "client/facts/commit.h"
#include "client/facts/statement.h"

namespace broodpact::facts {

// Of an adoption nothing but itself: whose statements it counts as, the fold says.
const std::vector<Statement>& StatedIn(const Commit& commit);

// The first rotation among them; null if there is none.
const KeyRotation* RotationIn(const Commit& commit);

}  // namespace broodpact::facts
