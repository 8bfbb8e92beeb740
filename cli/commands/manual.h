#pragma once

// broodpact help, man, completion: the tree of commands about itself.

#include "cli/grammar/command.h"

namespace broodpact::cli {

// `root` outlives its commands, and is complete when one of these runs.
void AddManualCommands(Command& root);

}  // namespace broodpact::cli
