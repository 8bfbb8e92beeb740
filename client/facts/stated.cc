#include "client/facts/stated.h"

#include <variant>

namespace broodpact::facts {

const std::vector<Statement>& StatedIn(const Commit& commit) {
  if (commit.statements.empty()) return commit.statements;
  const auto* again = std::get_if<Restatement>(&commit.statements.front());
  return again != nullptr && again->told != nullptr ? again->told->statements : commit.statements;
}

const KeyRotation* RotationIn(const Commit& commit) {
  for (const Statement& statement : StatedIn(commit)) {
    if (const auto* rotation = std::get_if<KeyRotation>(&statement)) return rotation;
  }
  return nullptr;
}

}  // namespace broodpact::facts
