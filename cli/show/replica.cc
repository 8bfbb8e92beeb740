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

void Print(const Terminal& terminal, const v1::ReplicaStatus& status) {
  const v1::Cooperative& cooperative = status.cooperative();
  std::vector<Field> fields = {{"keeper", status.keeper().name()},
                               {"role", status.keeper().role()},
                               {"device", status.device_id()}};
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
  fields.emplace_back("last heard of", status.sync_time());
  fields.emplace_back("arrivals", std::to_string(status.arrivals()));
  fields.emplace_back("log hash", status.log_hash());
  fields.emplace_back("not delivered", Counted(status.undelivered(), "commit"));
  if (status.clashes() > 0) {
    fields.emplace_back("clashes", fmt::format("{}; see broodpact clashes", status.clashes()));
  }
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
