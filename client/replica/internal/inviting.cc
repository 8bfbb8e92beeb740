#include "client/replica/internal/inviting.h"

#include <algorithm>
#include <string>
#include <utility>
#include <variant>

#include "client/base/status.h"
#include "client/facts/chain.h"
#include "client/registry/state.h"
#include "client/sync/session.h"

namespace broodpact::replica {

std::optional<PublicKey> InviteKeyOf(const facts::Commit& first) {
  if (first.statements.empty()) return std::nullopt;
  const facts::Statement& entering = first.statements.front();
  if (const auto* joining = std::get_if<facts::Joining>(&entering)) return joining->invite_key;
  if (const auto* joining = std::get_if<facts::DeviceJoining>(&entering)) {
    return joining->invite_key;
  }
  return std::nullopt;
}

absl::StatusOr<sync::SignedRun> InvitingRun(const store::Store& database,
                                            const facts::Commit& joining) {
  sync::SignedRun run;
  const std::optional<PublicKey> key = InviteKeyOf(joining);
  if (!key) return run;
  BP_ASSIGN_OR_RETURN(const std::optional<registry::Invite> invite,
                      registry::Read<registry::Invite>(database, InviteOf(*key)));
  if (!invite || invite->entry.arrival <= database.base().arrivals) return run;
  std::size_t bytes = 0;
  // Up to the signature that vouches for it: a run lies in the log in one piece.
  for (std::uint64_t arrival = invite->entry.arrival; run.signature == Signature{}; ++arrival) {
    BP_ASSIGN_OR_RETURN(store::StoredArrival stored, database.ReadArrival(arrival));
    bytes += stored.bytes.size();
    run.commits.push_back(std::move(stored.bytes));
    run.signature = stored.signature.value_or(Signature{});
  }
  BP_ASSIGN_OR_RETURN(const facts::Commit first, facts::ParseCommit(run.commits.front()));
  std::vector<std::string> before;  // the newest first
  for (std::uint64_t seq = first.header.seq - 1; seq > 0; --seq) {
    const auto commit = database.CommitAt(facts::ChainOf(first.header), seq);
    if (ReasonOf(commit.status()) == "HISTORY_MISSING") break;
    BP_RETURN_IF_ERROR(commit.status());
    if (!*commit) break;
    bytes += (*commit)->size();
    if (bytes > sync::kPushBytesMax) break;
    if (run.commits.size() + before.size() == sync::kPushCommitsMax) break;
    before.push_back(**commit);
  }
  std::ranges::reverse(before);
  run.commits.insert(run.commits.begin(), before.begin(), before.end());
  return run;
}

}  // namespace broodpact::replica
