#pragma once

// What the acts have in common: a fresh id for what is made, a subject that must be known, and a
// day that must have come.

#include <optional>
#include <string>
#include <string_view>
#include <utility>

#include <fmt/format.h>

#include "client/base/day.h"
#include "client/base/id.h"
#include "client/base/status.h"
#include "client/registry/state.h"
#include "client/replica/replica.h"

namespace broodpact::replica {

// A new subject, and what became of the act that made it.
template <typename AnyId>
struct Made {
  AnyId id;
  Acted acted;
};

// Checks that a fact's day has come: its earliest day is not after today by the replica's clock.
// Errors: INVALID_ARGUMENT with reason DATE_IN_FUTURE.
absl::Status CheckHasCome(const Replica& replica, const DaySpan& day);

// A subject that must be known; `what` names its kind in the message ("animal").
// Errors: NOT_FOUND with reason UNKNOWN_SUBJECT; those of the source.
template <typename Subject, typename AnyId>
absl::StatusOr<Subject> Known(const Replica& replica, const AnyId& id, std::string_view what) {
  const registry::Source& source = replica.view();
  BP_ASSIGN_OR_RETURN(std::optional<Subject> found, registry::Read<Subject>(source, id));
  if (!found) {
    return Fail(absl::StatusCode::kNotFound, "UNKNOWN_SUBJECT",
                fmt::format("no {} {} here; sync, or look in the lists", what, ToShortText(id)));
  }
  return *std::move(found);
}

// States one thing and says under which id it is known from now on.
template <typename AnyId>
absl::StatusOr<Made<AnyId>> ActMaking(Replica& replica, const AnyId& id,
                                      facts::Statement statement) {
  BP_ASSIGN_OR_RETURN(Acted acted, replica.Act({std::move(statement)}));
  return Made<AnyId>{.id = id, .acted = std::move(acted)};
}

}  // namespace broodpact::replica
