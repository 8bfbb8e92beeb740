#pragma once

// Man pages, from the tree of commands: broodpact(1), and one page for each of its commands.

#include <map>
#include <string>

#include "cli/grammar/command.h"

namespace broodpact::cli {

// File name ("broodpact-loan.1") -> page in man(7) macros. No date and no version stands in them,
// so that a page changes only with what it says.
std::map<std::string, std::string> ManPagesOf(const Command& root);

}  // namespace broodpact::cli
