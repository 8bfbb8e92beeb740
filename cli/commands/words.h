#pragma once

// The words of options as values, and values as the words of sentences. The grammar admits no
// other words; an empty one is not said.

#include <cstdint>
#include <optional>
#include <string_view>

#include "client/facts/statement.h"

namespace broodpact::cli {

facts::Sex SexOf(std::string_view word);                 // female, male; else unknown
facts::SexMethod SexMethodOf(std::string_view word);     // shed-skin, ventral, adult-form
facts::PairingOutcome OutcomeOf(std::string_view word);  // seen, refused, eaten
facts::ArrivalCondition ArrivalConditionOf(std::string_view word);  // well, hurt, dead
facts::NameStatus NameStatusOf(std::string_view word);  // as `group name --status` has them
facts::Role RoleOf(std::string_view word);              // keeper, registrar, observer

// A token as its 32 hexadecimal digits; nothing where `text` is none.
std::optional<Token> TokenOf(std::string_view text);

}  // namespace broodpact::cli
