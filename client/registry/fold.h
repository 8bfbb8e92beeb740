#pragma once

// The fold: commits in order -> state and verdicts. The one meaning of the data, on clients and
// servers alike.
//
// Facts are recorded, at most flagged; intents may be superseded by what arrived before; nothing
// counts that its author may not say. RULES.md has every rule in one line. A commit costs what its
// statements cost, whatever the size of the registry.
//
// Pure and exact: no I/O, clock, locale, randomness, floating point or unordered iteration.

#include <cstdint>

#include "client/facts/arrival.h"
#include "client/registry/state.h"
#include "client/registry/verdict.h"

namespace broodpact::registry {

// One more whenever the same log folds to other bytes than before. States are comparable only at
// equal versions: replicas of different programs that differ then accuse nobody.
inline constexpr std::uint32_t kFoldVersion = 4;

// Folds one commit into `state`: keeps all of its effect, or none of it.
//
// The caller has checked form, chain and signature, and that the author's device is the one named
// in the header. Call in order of arrival; provisional commits (arrival 0) after all final ones.
// After a call, ask state.source_status() before relying on the verdict.
Verdict Fold(State& state, const facts::Arrived& arrived);

}  // namespace broodpact::registry
