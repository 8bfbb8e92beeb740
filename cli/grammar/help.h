#pragma once

// Help: one page a command, and a few for what belongs to no command.

#include <string>
#include <string_view>
#include <vector>

#include "cli/grammar/command.h"

namespace broodpact::cli {

// The page of a command: what it does, the rule that people get wrong, how it is called, its
// arguments, examples. Of a group: its commands. At most 80 columns wide.
std::string HelpOf(const Command& command);

// How it is called, on one line, without "Usage:".
std::string UsageOf(const Command& command);

// The names of the pages for what belongs to no command.
std::vector<std::string> HelpTopics();

// One of those pages; empty if there is none of that name.
std::string HelpOfTopic(std::string_view topic);

// `text` in lines of at most `width` columns, each after `indent` spaces.
std::string Wrapped(std::string_view text, std::size_t width, std::size_t indent);

}  // namespace broodpact::cli
