#pragma once

// Where a command writes, and what it may assume about the reader. A command gets this and nothing
// global, so a test can be the terminal.

#include <ostream>
#include <string>
#include <string_view>

namespace broodpact::cli {

// How results are printed.
enum class Format { kTable, kJson };

struct Terminal {
  std::ostream& out;              // results
  std::ostream& messages;         // everything else: progress, cautions, errors, next steps
  bool out_is_tty = false;        // a person reads `out`: align, colour, truncate
  bool messages_are_tty = false;  // a person reads `messages`: progress and cautions make sense
  bool colour = false;            // a terminal, NO_COLOR unset or empty, TERM not "dumb"
  int width = 80;                 // columns of `out`; unlimited when it is no terminal
  Format format = Format::kTable;
};

// The four meanings of colour; none is ever the only sign of anything.
enum class Tone { kPlain, kInTheWay, kLookAtIt, kNowSo, kSecondary };

// `text` in the colour of `tone`, or as it is where there is no colour.
std::string Toned(const Terminal& terminal, Tone tone, std::string_view text);

// Text that others wrote, safe to show: control characters (they could move the cursor, or break
// a table) become '?'.
std::string Clean(std::string_view text);

// Says a caution on the messages in the colour of secondary things; only where a person reads them.
void Caution(const Terminal& terminal, std::string_view sentence);

}  // namespace broodpact::cli
