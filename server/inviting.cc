#include "server/inviting.h"

#include <algorithm>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "client/base/status.h"

namespace broodpact::server {
namespace {

bool Invites(const facts::Commit& commit, const PublicKey& invite_key) {
  return std::ranges::any_of(commit.statements, [&](const facts::Statement& statement) {
    if (const auto* one = std::get_if<facts::Invitation>(&statement)) {
      return one->invite_key == invite_key;
    }
    const auto* one = std::get_if<facts::DeviceInvitation>(&statement);
    return one != nullptr && one->invite_key == invite_key;
  });
}

absl::Status NotInItError() {
  return Fail(absl::StatusCode::kNotFound, "INVITE_UNKNOWN",
              "the invitation is not in what was brought; ask the registrar to sync");
}

}  // namespace

absl::StatusOr<Run> CheckInviting(const Callers& callers, const v1::Push& inviting,
                                  const Run& joining) {
  const std::optional<Entering> entering = EnteringIn(joining.commits.front());
  if (!entering || inviting.commits().empty()) return NotInItError();
  BP_ASSIGN_OR_RETURN(const facts::Commit first, facts::ParseCommit(inviting.commits(0)));
  BP_ASSIGN_OR_RETURN(const Caller author, callers.Author(first.header.device));
  BP_ASSIGN_OR_RETURN(Run run, CheckRun(std::vector<std::string>(inviting.commits().begin(),
                                                                 inviting.commits().end()),
                                        inviting.signature(),
                                        {.cooperative = joining.commits.front().header.cooperative,
                                         .device = author.device,
                                         .key = author.key}));
  const bool invites = std::ranges::any_of(run.commits, [&](const facts::Commit& commit) {
    return Invites(commit, entering->invite_key);
  });
  if (!invites) return NotInItError();
  BP_RETURN_IF_ERROR(callers.CheckTaken(author.device, run.commits));
  return run;
}

}  // namespace broodpact::server
