#include "cli/day_order.h"

#include <fmt/format.h>

#include "cli/terminal/terminal.h"

namespace broodpact::cli {

void NoteOrder(const Desk& desk, std::string_view earlier_word,
               const std::optional<DaySpan>& earlier, std::string_view later_word,
               const std::optional<DaySpan>& later) {
  if (!earlier || !later || later->latest >= earlier->earliest) return;
  desk.terminal.messages << Toned(desk.terminal, Tone::kLookAtIt, "Note: ")
                         << fmt::format(
                                "{} on {} and {} on {} cannot both be right; it is recorded, look "
                                "at the dates and enter the wrong one again\n",
                                earlier_word, ToText(*earlier), later_word, ToText(*later));
}

}  // namespace broodpact::cli
