#include "cli/commands/words.h"

#include <string>

#include "client/base/hash.h"

namespace broodpact::cli {

facts::Sex SexOf(std::string_view word) {
  if (word == "female") return facts::Sex::kFemale;
  if (word == "male") return facts::Sex::kMale;
  return facts::Sex::kUnknown;
}

facts::SexMethod SexMethodOf(std::string_view word) {
  if (word == "shed-skin") return facts::SexMethod::kShedSkin;
  if (word == "ventral") return facts::SexMethod::kVentral;
  if (word == "adult-form") return facts::SexMethod::kAdultForm;
  return facts::SexMethod::kUnspecified;
}

facts::PairingOutcome OutcomeOf(std::string_view word) {
  if (word == "seen") return facts::PairingOutcome::kInsertionSeen;
  if (word == "refused") return facts::PairingOutcome::kRefused;
  if (word == "eaten") return facts::PairingOutcome::kMaleEaten;
  return facts::PairingOutcome::kUnspecified;
}

facts::ArrivalCondition ArrivalConditionOf(std::string_view word) {
  if (word == "well") return facts::ArrivalCondition::kWell;
  if (word == "hurt") return facts::ArrivalCondition::kHurt;
  if (word == "dead") return facts::ArrivalCondition::kDead;
  return facts::ArrivalCondition::kUnspecified;
}

facts::NameStatus NameStatusOf(std::string_view word) {
  if (word == "accepted") return facts::NameStatus::kAccepted;
  if (word == "synonym") return facts::NameStatus::kSynonym;
  if (word == "new-combination") return facts::NameStatus::kNewCombination;
  if (word == "misapplied") return facts::NameStatus::kMisapplied;
  if (word == "trade-name") return facts::NameStatus::kTradeName;
  return facts::NameStatus::kUnspecified;
}

facts::Role RoleOf(std::string_view word) {
  if (word == "registrar") return facts::Role::kRegistrar;
  if (word == "observer") return facts::Role::kObserver;
  return facts::Role::kKeeper;
}

std::optional<Token> TokenOf(std::string_view text) {
  const std::optional<std::string> bytes = HexToBytes(text);
  const std::optional<IdBytes> id = bytes ? IdOfBytes(*bytes) : std::nullopt;
  if (!id) return std::nullopt;
  return Token{*id};
}

}  // namespace broodpact::cli
