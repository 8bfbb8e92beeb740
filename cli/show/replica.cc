// The replica itself as tables: log, status, sync and verify.

#include <fmt/format.h>

#include "cli/show/show.h"
#include "cli/terminal/table.h"

namespace broodpact::cli {
namespace {

std::string VerdictText(const v1::Verdict& verdict) {
  switch (verdict.kind()) {
    case v1::VERDICT_KIND_COUNTED:
      return "counted";
    case v1::VERDICT_KIND_SUPERSEDED:
      return "superseded";
    case v1::VERDICT_KIND_REFUSED:
      return "refused";
    case v1::VERDICT_KIND_VOID:
      return "void";
    case v1::VERDICT_KIND_HELD:
      return "held";
    default:
      return "";
  }
}

std::string ArrivalText(std::uint32_t arrival) {
  return arrival == 0 ? "-" : std::to_string(arrival);
}

std::string StatementsText(const v1::LogEntry& entry) {
  std::string text;
  for (const std::string& statement : entry.statements()) {
    text += (text.empty() ? "" : "; ") + statement;
  }
  return text;
}

std::string OutcomeText(const v1::LogEntry& entry) {
  std::string text = VerdictText(entry.verdict());
  if (!entry.verdict().message().empty()) text += ": " + entry.verdict().message();
  if (!entry.first_arrival_time().empty()) {
    text += fmt::format(" (first arrived {})", entry.first_arrival_time());
  }
  return text;
}

}  // namespace

void Print(const Terminal& terminal, const v1::LogEntryList& list) {
  std::vector<Row> rows;
  for (const v1::LogEntry& entry : list.entries()) {
    rows.push_back({ArrivalText(entry.arrival()),
                    entry.arrival_time().empty() ? entry.clock() : entry.arrival_time(),
                    entry.keeper().name(), StatementsText(entry), OutcomeText(entry)});
  }
  PrintTable(terminal, {"ARRIVAL", "TIME", "KEEPER", "WHAT", "VERDICT"}, rows);
}

std::string SnapshotText(const v1::SnapshotStart& start) {
  std::string keepers;
  for (const std::string& name : start.attested_by()) {
    keepers += (keepers.empty() ? "" : ", ") + name;
  }
  return fmt::format(
      "started from one of {}, attested by {}; history checked up to arrival {}, "
      "sync goes on",
      Counted(start.arrivals(), "arrival"), keepers, start.checked());
}

// The device, and which life of it this is, if not the first.
std::string DeviceText(const v1::ReplicaStatus& status) {
  if (status.incarnation() <= 1) return status.device_id();
  return fmt::format("{} (life {})", status.device_id(), status.incarnation());
}

void Print(const Terminal& terminal, const v1::ReplicaStatus& status) {
  const v1::Cooperative& cooperative = status.cooperative();
  std::vector<Field> fields = {{"keeper", status.keeper().name()},
                               {"role", status.keeper().role()},
                               {"device", DeviceText(status)}};
  if (cooperative.id().empty()) {
    fields.emplace_back("cooperative", "none yet: found one, or join one");
  } else {
    fields.emplace_back("cooperative", fmt::format("{} ({}, {}, {}, {})", cooperative.name(),
                                                   Counted(cooperative.keepers(), "keeper"),
                                                   Counted(cooperative.animals(), "animal"),
                                                   Counted(cooperative.loans(), "loan"),
                                                   Counted(cooperative.clutches(), "sac")));
  }
  fields.emplace_back("server", status.server().empty() ? "none yet" : status.server());
  fields.emplace_back("refuses this device", status.refusal());
  fields.emplace_back("last heard of", status.sync_time());
  fields.emplace_back("arrivals", std::to_string(status.arrivals()));
  fields.emplace_back("log hash", status.log_hash());
  if (status.has_snapshot()) fields.emplace_back("snapshot", SnapshotText(status.snapshot()));
  fields.emplace_back("not delivered", Counted(status.undelivered(), "commit"));
  if (status.carried() > 0) {
    fields.emplace_back("carried", fmt::format("{} of others; sync delivers them",
                                               Counted(status.carried(), "commit")));
  }
  if (status.aside() > 0) {
    fields.emplace_back(
        "kept for others",
        fmt::format("{} that a loss left without a place; a bundle brings them to their authors, "
                    "who state them again",
                    Counted(status.aside(), "commit")));
  }
  if (status.clashes() > 0) {
    fields.emplace_back("clashes", fmt::format("{}; see broodpact clashes", status.clashes()));
  }
  for (const std::string& note : status.notes()) fields.emplace_back("note", note);
  for (const std::string& task : status.tasks()) fields.emplace_back("waits for you", task);
  PrintFields(terminal, fields);
}

void Print(const Terminal& terminal, const v1::SyncResult& result) {
  PrintFields(terminal, {{"sent", Counted(result.commits_sent(), "commit")},
                         {"received", Counted(result.commits_received(), "commit")},
                         {"arrivals", std::to_string(result.arrivals())},
                         {"log hash", result.log_hash()}});
  for (const v1::LogEntry& entry : result.changed_verdicts()) {
    terminal.messages << Toned(terminal, Tone::kLookAtIt, "Changed: ")
                      << Clean(StatementsText(entry)) << '\n'
                      << "  now " << Clean(OutcomeText(entry)) << '\n';
    if (entry.verdict().winner_arrival() > 0) {
      terminal.messages << "  beaten by arrival " << entry.verdict().winner_arrival() << '\n';
    }
  }
  for (const std::string& fit : result.fits()) {
    terminal.messages << Toned(terminal, Tone::kLookAtIt, "Wanted: ") << Clean(fit) << '\n';
  }
  for (const std::string& note : result.notes()) {
    terminal.messages << Toned(terminal, Tone::kLookAtIt, "Note: ") << Clean(note) << '\n';
  }
}

void Print(const Terminal& terminal, const v1::LogHeadList& list) {
  std::vector<Field> fields;
  const auto add = [&fields](std::string_view what, const v1::LogHead& head) {
    fields.emplace_back(
        what, fmt::format("{} arrivals, epoch {}, {}", head.arrivals(), head.epoch(), head.time()));
    fields.emplace_back("  log hash", head.log_hash());
    fields.emplace_back("  tree root", head.tree_root());
    fields.emplace_back("  signature", head.signature());
    fields.emplace_back("  server key", head.server_key());
  };
  if (list.has_last()) {
    add("last head", list.last());
  } else {
    fields.emplace_back("last head", "none yet");
  }
  for (const v1::LogDoubt& doubt : list.doubts()) {
    fields.emplace_back("doubt", doubt.message());
    if (doubt.has_ours()) add("  this log", doubt.ours());
    add("  the other", doubt.theirs());
  }
  PrintFields(terminal, fields);
}

// Why something of a bundle was not taken, and what to do.
void SayWhatWasNotTaken(const Terminal& terminal, const v1::BundleResult& result) {
  if (result.passed_over() == "other server") {
    terminal.messages
        << "Its log is of another server than this replica's, so its arrivals were not "
           "taken; what was missing here of it is carried. If a registrar says that "
           "it is the right one, go over with broodpact server move.\n";
  }
  if (result.passed_over() == "after a loss") {
    terminal.messages << "The server has lost a part of the log since this replica heard from it, "
                         "so nothing of this one was taken: sync, and the server gets back what "
                         "is here.\n";
  }
  if (result.passed_over() == "lost") {
    terminal.messages << "Its log is one that a server has lost a part of. What was missing here "
                         "of it is carried, and the next sync delivers it.\n";
  }
  if (result.passed_over() == "begins later") {
    terminal.messages << fmt::format(
        "Its log begins with arrival {}, and what comes before is missing here: sync, and nothing "
        "is left to read; without a network, read a bundle that begins earlier.\n",
        result.arrivals_first());
  }
  if (result.mail_early() > 0) {
    terminal.messages << "Some come after commits that are missing here: sync, which brings them, "
                         "or read an older bundle; then read this one again.\n";
  }
  if (result.mail_forked() > 0) {
    terminal.messages << "Other branch: their device has written others at the same places, as one "
                         "does that was copied or put back from a backup, and those are known "
                         "here. None of them was taken: let their keeper read this file, and a "
                         "bundle from here, on that device (broodpact bundle read), which states "
                         "them again, and sync. Where the device was cut off, he writes a new "
                         "bundle there; what it brings can be adopted here.\n";
  }
  if (result.mail_refused() > 0) {
    terminal.messages << "Refused are those of nobody who is a member here, and badly signed ones: "
                         "of who has joined since your last sync, sync and read it again.\n";
  }
}

void Print(const Terminal& terminal, const v1::BundleResult& result) {
  const std::string& writer = result.writer().name();
  std::vector<Field> fields = {
      {"bundle", result.file()},
      {"written by", fmt::format("{}device {}", writer.empty() ? "" : writer + ", ",
                                 ShortId(result.device_id()))},
      {"written on", result.time()},
      {"log",
       result.arrivals_last() == 0
           ? "none"
           : fmt::format("arrivals {} to {}", result.arrivals_first(), result.arrivals_last())},
      {"not delivered", Counted(result.mail(), "commit")}};
  const auto add = [&fields](std::string_view what, std::uint32_t count) {
    if (count > 0) fields.emplace_back(what, Counted(count, "commit"));
  };
  add("new arrivals", result.arrivals_taken());
  add("carried now", result.mail_taken());
  add("known before", result.mail_known());
  add("too early", result.mail_early());
  add("other branch", result.mail_forked());
  add("stated again", result.mail_restated());
  add("refused", result.mail_refused());
  PrintFields(terminal, fields);
  SayWhatWasNotTaken(terminal, result);
}

void Print(const Terminal& terminal, const v1::VerifyResult& result) {
  std::vector<Field> fields = {{"commits", std::to_string(result.commits_checked())},
                               {"subjects", std::to_string(result.subjects_checked())},
                               {"state digest", result.state_digest()},
                               {"log hash", result.log_hash()}};
  for (const std::string& fault : result.faults()) fields.emplace_back("fault", fault);
  if (result.faults().empty()) fields.emplace_back("result", "all is well");
  PrintFields(terminal, fields);
}

}  // namespace broodpact::cli
