#include "cli/commands/sync.h"

#include <algorithm>
#include <chrono>
#include <condition_variable>
#include <map>
#include <mutex>
#include <stop_token>
#include <utility>
#include <variant>
#include <vector>

#include <fmt/format.h>

#include "cli/care.h"
#include "cli/commands/record.h"
#include "cli/show/show.h"
#include "cli/terminal/progress.h"
#include "cli/terminal/stop_signal.h"
#include "client/base/status.h"
#include "client/facts/stated.h"
#include "client/registry/index.h"
#include "client/replica/notes.h"

namespace broodpact::cli {
namespace {

void DescribeSync(Command& command, SyncOptions& options) {
  command.Note(
      "Delivers what you recorded and fetches what others did. Cut off in the middle, it goes on "
      "from there the next time. A result of yours that turned out otherwise is shown, with what "
      "beat it. Where a copy of this folder delivered before it, what lost its place is stated "
      "again, and you are told. What is sealed to your devices is brought to new ones of them, and "
      "your address, if you wrote one, opens to the other party of a loan in force. A replica that "
      "started from a snapshot then fetches the history before it and checks it; that may be "
      "interrupted, and the next sync goes on.");
  command.Flag("--follow", options.follow,
               "Stay on, and print each arrival, and what fits a want of yours, until Ctrl-C or "
               "SIGTERM (exit code 0); a server that goes away meanwhile is waited for");
  command.AddExample("Deliver and fetch", "broodpact sync");
  command.AddExample("Watch what arrives", "broodpact sync --follow");
}

// Prints arrivals as they come in: one line, or one JSON document, each.
class ArrivalPrinter {
 public:
  // What is passed outlives the printer.
  ArrivalPrinter(const Desk& desk, const replica::Replica& replica)
      : desk_(desk), replica_(replica), printed_(replica.store().point().arrivals) {}

  void PrintUpTo(std::uint64_t arrivals) {
    while (printed_ < arrivals) {
      const absl::StatusOr<v1::LogEntry> entry = EntryOfArrival(replica_, printed_ + 1);
      if (!entry.ok()) return;  // the session itself will meet the error, and report it
      ++printed_;
      PrintOne(*entry);
    }
  }

 private:
  void PrintOne(const v1::LogEntry& entry) {
    if (desk_.terminal.format == Format::kJson) {
      Terminal line = desk_.terminal;
      line.out_is_tty = false;               // one document a line, also for a person
      PrintJson(line, entry).IgnoreError();  // a message of ours always prints
      return;
    }
    std::string what;
    for (const std::string& statement : entry.statements()) {
      what += (what.empty() ? "" : "; ") + statement;
    }
    const std::string keeper = entry.keeper().name();
    desk_.terminal.out << fmt::format("{}\t{}\t{}\t{}\n", entry.arrival(), entry.arrival_time(),
                                      Clean(keeper), Clean(what))
                       << std::flush;
  }

  const Desk& desk_;
  const replica::Replica& replica_;
  std::uint64_t printed_;
};

// What fits own wants, by want and subject.
using Fits = std::map<std::pair<IdBytes, IdBytes>, std::string>;

// Before there is a cooperative nothing does.
absl::StatusOr<Fits> FitsOf(const Desk& desk, const replica::Replica& replica) {
  Fits by_subject;
  if (replica.cooperative() == Hash{}) return by_subject;
  BP_ASSIGN_OR_RETURN(auto fits, ViewOf(replica).Fits(desk.surroundings.clock.Today()));
  for (replica::View::Fit& fit : fits) by_subject.emplace(fit.what, std::move(fit.sentence));
  return by_subject;
}

// Whether this keeper wants something, or may by what waits: an adoption may be of anything.
absl::StatusOr<bool> MayWant(const replica::Replica& replica) {
  const bool waits = std::ranges::any_of(replica.undelivered(), [](const auto& one) {
    return std::ranges::any_of(facts::StatedIn(one.commit), [](const facts::Statement& statement) {
      return std::holds_alternative<facts::WantEntry>(statement) ||
             std::holds_alternative<facts::Adoption>(statement);
    });
  });
  if (waits) return true;
  BP_ASSIGN_OR_RETURN(
      const std::vector<std::string> wants,
      replica.store().IndexEntries(registry::WantsOfKeeper(replica.identity().keeper), 1));
  return !wants.empty();
}

// What fits before a sync. Only for who wants something what waits is folded for that.
absl::StatusOr<Fits> FitsBefore(const Desk& desk, replica::Replica& replica) {
  BP_ASSIGN_OR_RETURN(const bool may_want, MayWant(replica));
  if (!may_want) return Fits();
  BP_RETURN_IF_ERROR(replica.FoldWaiting());
  return FitsOf(desk, replica);
}

// Tells what fits an own want and did not before, as arrivals come in. A burst of them is looked
// through once: what fits is computed from the whole state.
class FitTeller {
 public:
  // What is passed outlives the teller.
  static absl::StatusOr<FitTeller> Of(const Desk& desk, const replica::Replica& replica) {
    FitTeller teller(desk, replica);
    BP_ASSIGN_OR_RETURN(teller.known_, FitsOf(desk, replica));
    return teller;
  }

  void TellNew() {
    const std::uint64_t arrivals = replica_.store().point().arrivals;
    if (arrivals == looked_at_) return;
    looked_at_ = arrivals;
    auto fits = FitsOf(desk_, replica_);
    if (!fits.ok()) return;  // the session itself will meet the error, and report it
    for (const auto& [what, sentence] : *fits) {
      if (!known_.contains(what)) Tell(sentence);
    }
    known_ = *std::move(fits);
  }

 private:
  FitTeller(const Desk& desk, const replica::Replica& replica)
      : desk_(desk), replica_(replica), looked_at_(replica.store().point().arrivals) {}

  void Tell(const std::string& sentence) {
    if (desk_.terminal.format == Format::kJson) {
      v1::SyncResult result;
      result.add_fits(sentence);
      Terminal line = desk_.terminal;
      line.out_is_tty = false;
      PrintJson(line, result).IgnoreError();  // a message of ours always prints
      return;
    }
    desk_.terminal.out << "fits\t" << Clean(sentence) << '\n' << std::flush;
  }

  const Desk& desk_;
  const replica::Replica& replica_;
  Fits known_;
  std::uint64_t looked_at_;
};

absl::StatusOr<v1::SyncResult> ResultOf(const replica::Replica& replica,
                                        const replica::Synced& synced) {
  v1::SyncResult result;
  result.set_commits_sent(static_cast<std::uint32_t>(synced.progress.commits_sent));
  result.set_commits_received(static_cast<std::uint32_t>(synced.progress.commits_received));
  result.set_arrivals(static_cast<std::uint32_t>(synced.point.arrivals));
  result.set_log_hash(ToHex(synced.point.log_hash));
  for (const replica::ChangedVerdict& changed : synced.changed) {
    BP_ASSIGN_OR_RETURN(*result.add_changed_verdicts(), EntryOfArrival(replica, changed.arrival));
  }
  BP_ASSIGN_OR_RETURN(const std::optional<replica::Repair> repair, replica.UntoldRepair());
  if (repair) result.add_notes(replica::RepairNote(*repair));
  for (const std::string& note : replica::NotesOf(replica, synced)) result.add_notes(note);
  return result;
}

// Fetches the history that a start from a snapshot left out. What was exchanged before is safe: a
// server that goes away meanwhile is no failure of the sync.
absl::Status FillHistory(const Desk& desk, replica::Replica& replica, sync::Options options) {
  if (replica.store().CheckHistory().ok()) return absl::OkStatus();
  Progress progress(desk.terminal);
  options.mode = sync::Mode::kOnce;
  options.now_ms = desk.surroundings.clock.NowMillis();
  options.on_progress = [&](const sync::Progress& now) {
    progress.Show("Checking the history:", now.arrivals,
                  std::max(now.arrivals_server, now.arrivals));
  };
  const absl::StatusOr<replica::FilledHistory> filled = replica.FillHistory(options);
  progress.Clear();
  std::ostream& messages = desk.terminal.messages;
  if (absl::IsUnavailable(filled.status()) || absl::IsCancelled(filled.status())) {
    messages << "Note: the history is not checked to its end yet ("
             << Clean(std::string(filled.status().message())) << "); the next sync goes on\n";
    return absl::OkStatus();
  }
  BP_RETURN_IF_ERROR(filled.status());
  if (const std::optional<std::string>& fault = filled->fault) {
    messages << Toned(desk.terminal, Tone::kInTheWay, "Warning: ") << Clean(*fault) << '\n';
  } else {
    messages << fmt::format(
        "The history is checked: all {} are here, and {}.\n", Counted(filled->arrivals, "arrival"),
        filled->compared ? "the snapshot was right"
                         : "what counts is the log alone; it does not show whether the "
                           "snapshot was right");
  }
  return absl::OkStatus();
}

absl::Status Once(const Desk& desk, replica::Replica& replica, sync::Options options) {
  Progress progress(desk.terminal);
  const std::uint64_t before = replica.store().point().arrivals;
  BP_ASSIGN_OR_RETURN(const Fits fitted, FitsBefore(desk, replica));
  options.mode = sync::Mode::kOnce;
  options.on_progress = [&](const sync::Progress& now) {
    const std::uint64_t total = std::max(now.arrivals_server, now.arrivals);
    progress.Show("Syncing", now.arrivals - std::min(before, now.arrivals),
                  total - std::min(before, total));
  };
  absl::StatusOr<replica::Synced> synced = replica.Sync(options);
  std::vector<std::string> notes;
  // Who has left states nothing any more.
  if (synced.ok() && !synced->left) notes = CareAfterSync(desk, replica, options, *synced);
  progress.Clear();
  if (!synced.ok()) return synced.status();
  BP_ASSIGN_OR_RETURN(v1::SyncResult result, ResultOf(replica, *synced));
  for (const std::string& note : notes) result.add_notes(note);
  BP_ASSIGN_OR_RETURN(const Fits fits, FitsOf(desk, replica));
  for (const auto& [what, sentence] : fits) {
    if (!fitted.contains(what)) result.add_fits(sentence);
  }
  BP_RETURN_IF_ERROR(Present(desk, result));
  BP_RETURN_IF_ERROR(replica.ForgetRepair());
  return synced->left ? absl::OkStatus() : FillHistory(desk, replica, options);
}

// Waits before the next try to reach a server that went away: longer each time, up to a minute.
class Retry {
 public:
  // Returns false once a stop is requested.
  bool Wait(const std::stop_token& stop) {
    std::mutex mutex;
    std::unique_lock lock(mutex);
    std::condition_variable_any told;
    told.wait_for(lock, stop, wait_, [] { return false; });
    wait_ = std::min(2 * wait_, kLongest);
    return !stop.stop_requested();
  }
  void Begin() { wait_ = kFirst; }

 private:
  static constexpr std::chrono::seconds kFirst{1};
  static constexpr std::chrono::seconds kLongest{60};
  std::chrono::seconds wait_ = kFirst;
};

// Follows until it is told to stop. A server that cannot be reached at first is an error; one that
// goes away later, as for a restart, is waited for.
absl::StatusOr<replica::Synced> FollowOn(const Desk& desk, replica::Replica& replica,
                                         sync::Options options) {
  Retry retry;
  bool reached = false;  // once
  bool away = false;     // since it was reached last
  options.on_progress = [&, show = std::move(options.on_progress)](const sync::Progress& now) {
    if (now.arrivals_server == 0) return;  // nothing has been heard of the server yet
    if (std::exchange(away, false)) {
      desk.terminal.messages << "The server answers again." << std::endl;
    }
    reached = true;
    retry.Begin();
    show(now);
  };
  while (true) {
    options.now_ms = desk.surroundings.clock.NowMillis();
    absl::StatusOr<replica::Synced> synced = replica.Sync(options);
    if (synced.ok() || !reached || !absl::IsUnavailable(synced.status())) return synced;
    if (!std::exchange(away, true)) {
      desk.terminal.messages << Clean(std::string(synced.status().message()))
                             << "; trying again until it answers, Ctrl-C ends it." << std::endl;
    }
    if (!retry.Wait(options.stop)) return replica::Synced{.point = replica.store().point()};
  }
}

absl::Status Follow(const Desk& desk, replica::Replica& replica, sync::Options options) {
  // With what is known now; the session delivers it. What comes in meanwhile waits for the next
  // one.
  const absl::StatusOr<replica::SealedCare> care = replica::CareForSealed(replica);
  if (!care.ok()) {
    desk.terminal.messages << "Sealed text was not looked after: "
                           << Clean(std::string(care.status().message())) << '\n';
  }
  const StopOnSignal stop;
  options.stop = stop.token();
  BP_RETURN_IF_ERROR(FillHistory(desk, replica, options));
  ArrivalPrinter printer(desk, replica);
  BP_ASSIGN_OR_RETURN(FitTeller fits, FitTeller::Of(desk, replica));
  options.mode = sync::Mode::kFollow;
  options.on_progress = [&, said = false](const sync::Progress& now) mutable {
    // What stands in the way of telling it ends the session too, and is told by the next one.
    TellRepair(desk, replica).IgnoreError();
    printer.PrintUpTo(now.arrivals);
    if (now.arrivals >= now.arrivals_server) fits.TellNew();
    if (said) return;
    said = true;
    desk.terminal.messages << "Following the server; Ctrl-C ends it." << std::endl;
  };
  BP_ASSIGN_OR_RETURN(const replica::Synced synced, FollowOn(desk, replica, std::move(options)));
  printer.PrintUpTo(synced.point.arrivals);
  fits.TellNew();
  if (desk.terminal.format == Format::kJson) return absl::OkStatus();
  return PresentSynced(desk, replica, synced);
}

}  // namespace

absl::Status PresentSynced(const Desk& desk, replica::Replica& replica,
                           const replica::Synced& synced) {
  BP_ASSIGN_OR_RETURN(const v1::SyncResult result, ResultOf(replica, synced));
  BP_RETURN_IF_ERROR(Present(desk, result));
  return replica.ForgetRepair();
}

absl::Status RunSync(const Desk& desk, const SyncOptions& options) {
  const std::optional<BlockedSignals> blocked =
      options.follow ? std::optional<BlockedSignals>(std::in_place) : std::nullopt;
  BP_ASSIGN_OR_RETURN(const auto replica, options.follow ? OpenToWrite(desk) : OpenToSync(desk));
  sync::Options how;
  how.now_ms = desk.surroundings.clock.NowMillis();
  return options.follow ? Follow(desk, *replica, how) : Once(desk, *replica, how);
}

void AddSyncCommand(Command& root) {
  root.Add("sync", "Exchange with the server", DescribeSync, RunSync);
}

}  // namespace broodpact::cli
