#pragma once

// Days that cannot both be right: what is entered is recorded all the same, as all facts are, and
// whoever entered it is told at once.

#include <optional>
#include <string_view>

#include "cli/desk.h"
#include "client/base/day.h"

namespace broodpact::cli {

// Notes on the messages that `later` ("pulled") lies before `earlier` ("laid"), however uncertain
// days are taken. Nothing where one of the two is not known.
void NoteOrder(const Desk& desk, std::string_view earlier_word,
               const std::optional<DaySpan>& earlier, std::string_view later_word,
               const std::optional<DaySpan>& later);

}  // namespace broodpact::cli
