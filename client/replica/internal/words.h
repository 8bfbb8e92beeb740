#pragma once

// The trade's words for values of the registry, as registry.proto lists them.

#include <cstdint>
#include <string>
#include <string_view>

#include "client/base/day.h"
#include "client/registry/subject.h"

namespace broodpact::replica {

std::string_view RoleWord(facts::Role role);
std::string_view SexWord(facts::Sex sex);
std::string_view NameStatusWord(facts::NameStatus status);      // empty: not said
std::string_view MethodWord(facts::SexMethod method);           // empty: not said
std::string_view ConditionWord(facts::ArrivalCondition value);  // empty: not said
std::string_view OutcomeWord(facts::PairingOutcome outcome);    // empty: not said
std::string_view PartyRoleWord(facts::PartyRole role);          // empty: not said
std::string_view LoanStateWord(registry::LoanState state);
std::string_view VersionStateWord(registry::VersionState state);
std::string_view CountStateWord(registry::CountState state);
std::string_view ClashStateWord(registry::ClashState state);
std::string_view ClutchStateWord(const registry::Clutch& clutch);

std::string_view WantWord(facts::WantKind kind);  // "slings", "a male", "a female"

std::string_view FieldWord(facts::SealedField field);  // "locality", "address", "price", "note"

// "animal", "loan" and so on.
std::string_view KindWord(registry::Kind kind);

// A day as text; empty where it is not known.
std::string DayText(const std::optional<DaySpan>& span);

// "1 sling", "2 slings".
std::string Slings(std::uint32_t slings);

// A fraction as it was stated: "1/8"; "0" for none.
std::string FractionText(std::uint32_t numerator, std::uint32_t denominator);

}  // namespace broodpact::replica
