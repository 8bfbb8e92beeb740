#pragma once

// The whole grammar of broodpact.

#include <memory>

#include "cli/grammar/command.h"
#include "cli/grammar/parse.h"

namespace broodpact::cli {

// Every command, with the global options going to `globals`, which outlives the tree.
std::unique_ptr<Command> AllCommands(Globals& globals);

}  // namespace broodpact::cli
