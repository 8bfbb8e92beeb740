#include "server/entrance.h"

#include <memory>
#include <optional>

#include "client/base/check.h"
#include "client/base/status.h"
#include "client/registry/fold.h"
#include "client/registry/state.h"

namespace broodpact::server {
namespace {

absl::StatusOr<std::optional<registry::Invite>> InviteFor(const store::Store& database,
                                                          const Entering& entering) {
  return registry::Read<registry::Invite>(database, InviteOf(entering.invite_key));
}

absl::Status CheckWouldCount(const store::Store& database, const facts::Commit& joining,
                             std::int64_t now_ms) {
  const std::unique_ptr<registry::Source> snapshot = database.Snapshot();
  registry::State state(*snapshot);
  const registry::Verdict verdict =
      registry::Fold(state, {.commit = joining, .arrival = 0, .time_ms = now_ms});
  BP_RETURN_IF_ERROR(state.source_status());
  return StatusOf(verdict);
}

}  // namespace

absl::Status StatusOf(const registry::Verdict& verdict) {
  if (verdict.kind == registry::VerdictKind::kCounted) return absl::OkStatus();
  return Fail(absl::StatusCode::kFailedPrecondition, verdict.reason, verdict.message);
}

absl::Status UsedError() {
  return Fail(absl::StatusCode::kFailedPrecondition, "INVITE_USED",
              "this invite code was used before; ask a registrar for a new one");
}

absl::StatusOr<bool> IsInvited(const store::Store& database, const facts::Commit& joining) {
  const std::optional<Entering> entering = EnteringIn(joining);
  if (!entering) return false;
  BP_ASSIGN_OR_RETURN(const std::optional<registry::Invite> invite, InviteFor(database, *entering));
  return invite && (invite->spent_by.empty() || invite->spent_by == joining.header.device);
}

absl::Status CheckEntrance(const store::Store& database, const Run& run, std::int64_t now_ms) {
  const std::optional<Entering> entering = EnteringIn(run.commits.front());
  BP_CHECK(entering.has_value());
  BP_ASSIGN_OR_RETURN(const std::optional<registry::Invite> invite, InviteFor(database, *entering));
  if (!invite) {
    return Fail(absl::StatusCode::kNotFound, "INVITE_UNKNOWN",
                "the invitation has not arrived at this server; ask the registrar to sync, then "
                "join again");
  }
  if (invite->spent_by.empty()) return CheckWouldCount(database, run.commits.front(), now_ms);
  return invite->spent_by == run.chain.device ? absl::OkStatus() : UsedError();
}

}  // namespace broodpact::server
