#pragma once

// Reads a command line against a tree of commands (by CLI11, which no other file includes: it
// takes seconds to compile).

#include <string>
#include <vector>

#include "absl/status/statusor.h"

#include "cli/grammar/command.h"

namespace broodpact::cli {

// What the command line says whatever the command; options that may stand before or after it.
struct Globals {
  bool json = false;
  bool help = false;
  bool version = false;
  bool no_color = false;
  std::string home{};  // empty: not said
};

// Adds the global options to the root of a tree.
void DescribeGlobals(Command& root, Globals& globals);

// Fills the targets of the root's and the called command's arguments, and returns that command.
// With --help or --version nothing is required, and the command may be a group.
//
// Numbers are whole and decimal, 0 to 4,294,967,295: "010" is ten.
//
// Errors: INVALID_ARGUMENT with reason USAGE (the message names the command to ask for help) or
// TEXT_MALFORMED.
absl::StatusOr<const Command*> Parse(const Command& root, const Globals& globals,
                                     const std::vector<std::string>& arguments);

}  // namespace broodpact::cli
