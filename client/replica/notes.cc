#include "client/replica/notes.h"

#include <algorithm>
#include <optional>
#include <variant>

#include <fmt/format.h>

#include "client/base/day.h"
#include "client/base/status.h"
#include "client/registry/state.h"

namespace broodpact::replica {
namespace {

constexpr std::int64_t kMinuteMillis = 60'000;
constexpr std::int64_t kHourMillis = 60 * kMinuteMillis;
constexpr std::int64_t kDayMillis = 24 * kHourMillis;

// "3 days", rounded, in the largest unit that has two or more.
std::string LengthText(std::int64_t ms) {
  const auto rounded = [ms](std::int64_t unit) { return (ms + unit / 2) / unit; };
  if (rounded(kDayMillis) >= 2) return fmt::format("{} days", rounded(kDayMillis));
  if (rounded(kHourMillis) >= 2) return fmt::format("{} hours", rounded(kHourMillis));
  return fmt::format("{} minutes", rounded(kMinuteMillis));
}

std::string Counted(std::uint64_t count, std::string_view one, std::string_view many) {
  return fmt::format("{} {}", count, count == 1 ? one : many);
}

// What became of what was stated again.
struct Restated {
  std::uint64_t commits = 0;
  std::uint64_t in_vain = 0;  // of those, the ones that do not count
};

std::string RestatedNote(const Restated& restated, std::uint32_t incarnation) {
  const std::string outcome =
      restated.in_vain == 0
          ? "nothing is lost"
          : fmt::format("all is kept, but {} not count (`broodpact log` says why)",
                        Counted(restated.in_vain, "commit does", "commits do"));
  return fmt::format(
      "another copy of this device was first where {} of this folder stood (a copied folder, or a "
      "restored backup): stated again in life {} of the device, {}; write in one folder only, and "
      "give a second computer an invitation of its own",
      restated.commits == 1 ? "a commit" : fmt::format("{} commits", restated.commits), incarnation,
      outcome);
}

bool Restates(const Replica::Undelivered& one) {
  return std::holds_alternative<facts::Restatement>(one.commit.statements.front());
}

// The command that signs again what an own statement signed; nothing for other statements.
std::optional<std::string> CommandToSign(const facts::Statement& statement) {
  if (const auto* loan = std::get_if<facts::LoanSignature>(&statement)) {
    return fmt::format("broodpact loan accept {}", ToShortText(loan->loan));
  }
  if (const auto* motion = std::get_if<facts::MotionSignature>(&statement)) {
    return fmt::format("broodpact motion sign {}", ToShortText(motion->motion));
  }
  if (const auto* clash = std::get_if<facts::ClashSignature>(&statement)) {
    return fmt::format("broodpact clash sign {}", ToShortText(clash->clash));
  }
  return std::nullopt;
}

// Whether what was signed was not in the log yet: it may only come after its signature.
bool CameBeforeWhatItSigns(const registry::Verdict& verdict) {
  return verdict.reason == "UNKNOWN_SUBJECT" || verdict.reason == "UNKNOWN_SETTLEMENT" ||
         verdict.reason == "DIGEST_OTHER";
}

// The statements of a commit; of one that states another again, what that one said.
absl::StatusOr<std::vector<facts::Statement>> SaidBy(facts::Commit commit) {
  const auto* again = std::get_if<facts::Restatement>(&commit.statements.front());
  if (again == nullptr) return std::move(commit.statements);
  BP_ASSIGN_OR_RETURN(facts::Commit told, facts::ParseCommit(again->commit));
  return std::move(told.statements);
}

// What to do about an own signature that does not count as it has arrived; nothing where no other
// one would count either.
std::optional<std::string> AdviceOn(const Replica& replica, const facts::Statement& statement,
                                    const ChangedVerdict& changed) {
  if (CameBeforeWhatItSigns(changed.after)) {
    const std::optional<std::string> command = CommandToSign(statement);
    if (!command) return std::nullopt;
    return fmt::format(
        "your signature of arrival {} does not count as it has arrived ({}); once what you signed "
        "is here, and is what you meant, sign again: `{}`",
        changed.arrival, changed.after.message, *command);
  }
  const auto* signature = std::get_if<facts::LoanSignature>(&statement);
  if (signature == nullptr || changed.after.reason != "ANIMAL_PROMISED") return std::nullopt;
  const std::optional<registry::Loan> loan =
      registry::Read<registry::Loan>(replica.view(), signature->loan)
          .value_or(std::optional<registry::Loan>());
  if (!loan || loan->borrower != replica.identity().keeper) return std::nullopt;
  return fmt::format(
      "loan {} has lost its animal to another loan, and no signature brings it back; for a male, "
      "`broodpact find male --for` and the name of the female shows who else there is",
      loan->name.empty() ? ToShortText(loan->id) : loan->name);
}

// What to do about an own commit that counts no more as it was told.
absl::StatusOr<std::optional<std::string>> ChangeNote(const Replica& replica,
                                                      const ChangedVerdict& changed) {
  std::optional<std::string> note;
  if (changed.after.kind == registry::VerdictKind::kCounted) return note;
  BP_ASSIGN_OR_RETURN(const store::StoredArrival stored,
                      replica.store().ReadArrival(changed.arrival));
  BP_ASSIGN_OR_RETURN(const facts::Commit commit, facts::ParseCommit(stored.bytes));
  BP_ASSIGN_OR_RETURN(const auto author,
                      registry::Read<registry::Device>(replica.view(), commit.header.device));
  if (!author || author->keeper != replica.identity().keeper) return note;
  BP_ASSIGN_OR_RETURN(const std::vector<facts::Statement> said, SaidBy(commit));
  for (const facts::Statement& statement : said) {
    note = AdviceOn(replica, statement, changed);
    if (note) return note;
  }
  return note;
}

}  // namespace

std::string RepairNote(const Repair& repair) {
  std::string note = repair.new_server
                         ? "the new server had not all of the log"
                         : "the server had lost a part of its log, as one does that is restored "
                           "from an old backup";
  if (repair.given_back > 0) {
    note += fmt::format("; this replica gave it {} back, each at its place",
                        Counted(repair.given_back, "arrival", "arrivals"));
  }
  if (repair.rewound_to) {
    note += fmt::format(
        "; what followed arrival {} has arrived again ({} by this replica), at other places: look "
        "at `broodpact clashes`, a verdict may be another one",
        *repair.rewound_to, Counted(repair.delivered_again, "commit", "commits"));
  }
  if (repair.refused > 0) {
    note += fmt::format(
        "; {} of others had no place any more (their device went on otherwise meanwhile, or was "
        "cut off) and stay here: `broodpact bundle write` takes them to their keepers, whose "
        "`broodpact bundle read` states them again",
        Counted(repair.refused, "commit", "commits"));
  }
  return note;
}

std::optional<std::string> ClockNote(std::int64_t ahead_ms, std::string_view name) {
  if (ahead_ms > -kClockToleranceMillis && ahead_ms < kClockToleranceMillis) return std::nullopt;
  return fmt::format(
      "the clock of this computer is {} {} {}: set it, and check the days that you entered "
      "meanwhile without typing them",
      LengthText(ahead_ms < 0 ? -ahead_ms : ahead_ms), ahead_ms < 0 ? "behind" : "ahead of", name);
}

v1::LogHead HeadMessageOf(const sync::Head& head) {
  v1::LogHead message;
  message.set_epoch(head.epoch);
  message.set_arrivals(static_cast<std::uint32_t>(head.point.arrivals));
  message.set_log_hash(ToHex(head.point.log_hash));
  if (head.signature == Signature{}) return message;
  message.set_tree_root(ToHex(head.tree_root));
  message.set_time(InstantText(head.time_ms));
  message.set_signature(BytesToHex(ViewOf(head.signature)));
  message.set_server_key(ToHex(head.server_key));
  return message;
}

absl::StatusOr<std::int64_t> ClockBehindMillis(const Replica& replica) {
  std::int64_t latest_ms = 0;
  const std::uint64_t arrivals = replica.store().point().arrivals;
  if (arrivals > replica.store().base().arrivals) {
    BP_ASSIGN_OR_RETURN(const store::StoredArrival last, replica.store().ReadArrival(arrivals));
    latest_ms = last.time_ms;
  }
  BP_ASSIGN_OR_RETURN(const std::optional<sync::Head> head, replica.LastHead());
  if (head) latest_ms = std::max(latest_ms, head->time_ms);
  return std::max<std::int64_t>(0, latest_ms - replica.clock().NowMillis());
}

absl::StatusOr<std::vector<std::string>> NotesOf(const Replica& replica) {
  std::vector<std::string> notes;
  Restated restated;
  for (const Replica::Undelivered& one : replica.undelivered()) {
    if (!Restates(one)) continue;
    ++restated.commits;
    if (one.verdict.kind != registry::VerdictKind::kCounted) ++restated.in_vain;
  }
  if (restated.commits > 0) {
    notes.push_back(RestatedNote(restated, replica.identity().incarnation));
  }
  BP_ASSIGN_OR_RETURN(const std::vector<Doubt> doubts, replica.Doubts());
  for (const Doubt& doubt : doubts) notes.push_back(doubt.message);
  BP_ASSIGN_OR_RETURN(const std::vector<std::string> faults, replica.SnapshotFaults());
  notes.insert(notes.end(), faults.begin(), faults.end());
  BP_ASSIGN_OR_RETURN(const std::int64_t behind_ms, ClockBehindMillis(replica));
  if (const auto note = ClockNote(-behind_ms, "the newest arrival")) notes.push_back(*note);
  return notes;
}

std::vector<std::string> NotesOf(const Replica& replica, const Synced& synced) {
  std::vector<std::string> notes;
  if (synced.restated > 0) {
    notes.push_back(RestatedNote({.commits = synced.restated, .in_vain = synced.restated_in_vain},
                                 replica.identity().incarnation));
  }
  if (synced.left) notes.push_back(*synced.left);
  for (const ChangedVerdict& changed : synced.changed) {
    // That it changed is told in any case.
    const std::optional<std::string> note =
        ChangeNote(replica, changed).value_or(std::optional<std::string>());
    if (note) notes.push_back(*note);
  }
  if (synced.snapshot_fault) notes.push_back(*synced.snapshot_fault);
  if (const auto note = ClockNote(-synced.progress.server_ahead_ms, "the server's")) {
    notes.push_back(*note);
  }
  return notes;
}

}  // namespace broodpact::replica
