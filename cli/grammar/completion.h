#pragma once

// Completion scripts for shells, from the tree of commands. Names of subjects come from the
// replica, by calling the lists.

#include <string>
#include <string_view>

#include "cli/grammar/command.h"

namespace broodpact::cli {

// `shell` is bash, zsh or fish; empty for another.
std::string CompletionOf(const Command& root, std::string_view shell);

}  // namespace broodpact::cli
