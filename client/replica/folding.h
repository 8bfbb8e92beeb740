#pragma once

// Folds the log of a store that is there already: after a rebuild began or was cut off, and where
// another version of this program folded it by other rules.

#include "absl/status/status.h"

#include "client/store/store.h"

namespace broodpact::replica {

// Whether the fold was made by the rules of another version of this program.
bool IsFoldedOtherwise(const store::Store& store);

// Folds what of the log is not folded yet. Errors: those of reading the log and of AppendFold.
absl::Status FoldRest(store::Store& store);

// Sees to it that the fold is whole and made by the rules of this program: an opening for writing
// begins with it. A log that is not whole stays as it was folded, until its history is here.
// Errors: as FoldRest and Store::ClearFold.
absl::Status FoldByTheseRules(store::Store& store);

}  // namespace broodpact::replica
