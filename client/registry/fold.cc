#include "client/registry/fold.h"

#include <algorithm>
#include <utility>
#include <variant>

#include "fmt/core.h"

#include "client/facts/of_membership.h"
#include "client/registry/internal/devices.h"
#include "client/registry/internal/rules.h"

namespace broodpact::registry {
namespace {

Finding Held(std::string_view reason, std::string message) {
  return Verdict{
      .kind = VerdictKind::kHeld, .reason = std::string(reason), .message = std::move(message)};
}

template <typename Kind>
bool States(const facts::Statement& statement) {
  return std::holds_alternative<Kind>(statement);
}

// The commit is of this cooperative. What it has seen is for whoever has the log to judge: a server
// that lost a part of its log takes honest commits again that have seen more than it has left.
Finding CheckHeader(Case& c, const facts::Commit& commit) {
  const Cooperative* cooperative = c.state.cooperative();
  if (cooperative == nullptr) {
    if (!commit.statements.empty() && States<facts::Founding>(commit.statements.front())) {
      return std::nullopt;
    }
    return Refused("NO_COOPERATIVE", "the cooperative is not founded yet");
  }
  for (const facts::Statement& statement : commit.statements) {
    // Its header names no cooperative; this says better what is wrong.
    if (States<facts::Founding>(statement)) return Apply(c, std::get<facts::Founding>(statement));
  }
  if (commit.header.cooperative != cooperative->id) {
    return Void("COOPERATIVE_OTHER", "the commit is of another cooperative");
  }
  return std::nullopt;
}

// The author's device, where it is known.
void FindAuthor(Case& c) {
  const Device* device = c.state.Find<Device>(c.arrived.commit.header.device);
  if (device != nullptr) c.entry.keeper = device->keeper;
}

bool MayWrite(Case& c) {
  const Keeper* author = c.state.Find<Keeper>(c.author());
  return author != nullptr && author->role != facts::Role::kObserver;
}

// Holds a commit with a kind of statement that is newer than this program. What it names is held
// still from now on, while its author may write at all.
Finding CheckNewerKinds(Case& c) {
  const bool may_write = MayWrite(c);
  bool newer = false;
  for (const facts::Statement& statement : c.arrived.commit.statements) {
    if (!States<facts::Unknown>(statement)) continue;
    newer = true;
    const std::vector<IdBytes>& subjects = std::get<facts::Unknown>(statement).subjects;
    if (may_write) {
      c.aftermath.frozen.insert(c.aftermath.frozen.end(), subjects.begin(), subjects.end());
    }
  }
  if (!newer) return std::nullopt;
  return Held("NEWER_KIND",
              "it states something that this version does not know; it is kept, and counts after "
              "an upgrade");
}

Finding SubjectFrozen(const IdBytes& id) {
  return Held("SUBJECT_FROZEN",
              fmt::format("{} was changed by a newer version; upgrade to go on with it",
                          IdText(id).substr(0, kIdShortSize)));
}

// Whether a subject is held still: as long as who named it in a newer kind has a vote. A made-up
// kind, which no upgrade will ever know, freezes nothing for longer than its author is let.
bool IsFrozen(Case& c, const IdBytes& id) {
  const Frozen* frozen = c.state.Find<Frozen>(id);
  return frozen != nullptr && VoteOf(c, frozen->entry.keeper).voter;
}

// Who is a member is never held still: a stolen key could make itself impossible to cut off.
bool MayBeFrozen(Kind kind) {
  switch (kind) {
    case Kind::kCooperative:
    case Kind::kKeeper:
    case Kind::kDevice:
    case Kind::kInvite:
    case Kind::kMotion:
    case Kind::kFrozen:
    case Kind::kBranch:
    case Kind::kStretch:
    case Kind::kSealingKey:
      return false;
    default:
      return true;
  }
}

bool IsOfMembers(Case& c, const IdBytes& id) {
  return c.state.Find<Keeper>(id) != nullptr || c.state.Find<Device>(id) != nullptr ||
         c.state.Find<Invite>(id) != nullptr || c.state.Find<Motion>(id) != nullptr;
}

Finding CheckNamed(Case& c, const facts::Statement& statement) {
  if (c.state.cooperative() == nullptr || c.state.cooperative()->frozen == 0) return std::nullopt;
  if (facts::IsOfMembership(statement)) return std::nullopt;
  for (const IdBytes& id : NamedBy(statement)) {
    if (IsFrozen(c, id) && !IsOfMembers(c, id)) return SubjectFrozen(id);
  }
  return std::nullopt;
}

// What the statements changed without naming it.
Finding CheckWritten(Case& c) {
  if (c.state.cooperative()->frozen == 0) return std::nullopt;
  for (const SubjectKey& key : c.state.DraftKeys()) {
    if (MayBeFrozen(key.kind) && IsFrozen(c, key.id)) return SubjectFrozen(key.id);
  }
  return std::nullopt;
}

// Whose author becomes a member by it.
bool Enters(const facts::Statement& statement) {
  return States<facts::Founding>(statement) || States<facts::Joining>(statement) ||
         States<facts::DeviceJoining>(statement);
}

// What an observer states too: it looks after its own devices.
bool IsOfOwnDevices(const facts::Statement& statement) {
  return States<facts::DeviceInvitation>(statement) || States<facts::Revocation>(statement) ||
         States<facts::KeyRotation>(statement) || States<facts::Leaving>(statement) ||
         States<facts::SealingKeyEntry>(statement) || States<facts::Resealing>(statement);
}

Finding CheckAuthor(Case& c, const facts::Statement& statement) {
  if (Enters(statement)) return std::nullopt;
  const Keeper* author = c.state.Find<Keeper>(c.author());
  if (author == nullptr) {
    return Void("DEVICE_UNKNOWN", "the device is no member's; join by an invite first");
  }
  if (author->role == facts::Role::kObserver && !IsOfOwnDevices(statement)) {
    return Void("OBSERVER", fmt::format("{} is an observer and states nothing", author->name));
  }
  return std::nullopt;
}

Finding Judge(Case& c) {
  if (c.around != nullptr) {
    if (Finding f = CheckHeader(c, *c.around)) return f;
  }
  if (Finding f = CheckHeader(c, c.arrived.commit)) return f;
  FindAuthor(c);
  if (Finding f = CheckDevice(c)) return f;
  if (c.around != nullptr) {
    const bool adopts = States<facts::Adoption>(c.around->statements.front());
    if (Finding f = adopts ? CheckAdoption(c) : CheckRestatement(c)) return f;
  } else if (Finding f = CheckOnce(c)) {
    return f;
  }
  if (Finding f = CheckNewerKinds(c)) return f;
  for (const facts::Statement& statement : c.arrived.commit.statements) {
    if (Finding f = CheckAuthor(c, statement)) return f;
    if (Finding f = CheckNamed(c, statement)) return f;
    Finding f = std::visit([&c](const auto& s) { return Apply(c, s); }, statement);
    if (f.has_value()) return f;
  }
  if (Finding f = CheckWritten(c)) return f;
  MarkHybrids(c);
  return std::nullopt;
}

}  // namespace

// Unreachable by way of Fold: CheckNewerKinds holds such a commit as a whole.
Finding Apply(Case&, const facts::Unknown&) {
  return Held("NEWER_KIND", "it states something that this version does not know");
}

void ApplyAftermath(Case& c) {
  const Aftermath& after = c.aftermath;
  // What beat the loan may have gone with this commit: then there was no contest.
  if (after.lost_loan.has_value()) {
    const Loan& winner = Known<Loan>(c, after.lost_loan->winner);
    if (winner.state != LoanState::kInForce) return;
  }
  std::uint64_t frozen = 0;
  for (const IdBytes& id : after.frozen) {
    if (c.state.Find<Frozen>(id) != nullptr) continue;
    c.state.Create<Frozen>(id).entry = c.entry;
    ++frozen;
  }
  if (frozen > 0) c.state.EditCooperative().frozen += frozen;

  if (after.lost_loan.has_value()) {
    Loan& loan = c.state.Edit<Loan>(after.lost_loan->loan);
    loan.signatures.push_back({.keeper = c.author(), .entry = c.entry});
    loan.state = LoanState::kSuperseded;
    loan.reason = after.lost_loan->reason;
    loan.ended = c.entry;
  }
  if (after.rival.has_value()) {
    c.state.Edit<Clutch>(after.rival->clutch).counts.push_back(after.rival->count);
  }
  if (after.clash.has_value() && c.state.Find<Clash>(after.clash->id) == nullptr) {
    c.state.Create<Clash>(after.clash->id) = *after.clash;
  }
}

namespace {

// The commit that another one states again or adopts, if it does nothing else; among other
// statements both are refused.
const facts::Commit* ToldIn(const facts::Commit& commit) {
  if (commit.statements.size() != 1) return nullptr;
  const facts::Statement& only = commit.statements.front();
  if (const auto* again = std::get_if<facts::Restatement>(&only)) return again->told.get();
  if (const auto* adoption = std::get_if<facts::Adoption>(&only)) return adoption->told.get();
  return nullptr;
}

Verdict FoldCase(State& state, const facts::Arrived& arrived, const facts::Commit* around) {
  Case c{
      .state = state,
      .arrived = arrived,
      .token = arrived.commit.token(),
      .around = around,
      .stretch = StretchOf(arrived.commit.header),
      .entry = {.arrival = arrived.arrival, .time_ms = facts::FirstTimeOf(arrived), .keeper = {}}};
  Finding finding = Judge(c);
  if (!finding.has_value()) {
    if (around == nullptr) NoteCounted(c);
    state.KeepDraft();
    return std::move(c.counted);
  }
  state.DropDraft();
  ApplyAftermath(c);
  state.KeepDraft();
  return *std::move(finding);
}

}  // namespace

Verdict Fold(State& state, const facts::Arrived& arrived) {
  const facts::Commit* again = ToldIn(arrived.commit);
  if (again == nullptr) return FoldCase(state, arrived, nullptr);
  const facts::Arrived told{.commit = *again,
                            .arrival = arrived.arrival,
                            .time_ms = arrived.time_ms,
                            .first_time_ms = arrived.first_time_ms};
  return FoldCase(state, told, &arrived.commit);
}

}  // namespace broodpact::registry
