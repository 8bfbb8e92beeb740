// Clashes, what keepers owe each other, and checks of sheets.

#include <fmt/format.h>

#include "cli/show/phrases.h"
#include "cli/show/show.h"
#include "cli/terminal/table.h"

namespace broodpact::cli {
namespace {

std::string ArrivalText(std::uint32_t arrival) {
  return arrival == 0 ? "-" : std::to_string(arrival);
}

std::string SettlementText(const v1::Settlement& settlement) {
  std::string text = fmt::format("{}, by {}", settlement.words(), settlement.keeper().name());
  for (const std::string& change : settlement.changes()) text += "; " + change;
  if (settlement.signers_size() > 0) {
    text += fmt::format("; signed by {}", NamesOf(settlement.signers()));
  }
  if (settlement.missing_size() > 0) {
    text += fmt::format("; not by {}", NamesOf(settlement.missing()));
  }
  return text;
}

std::string DueText(const v1::Owed& entry) {
  if (entry.overdue_days() > 0) {
    return fmt::format("{}, {} overdue", entry.due_day(), Counted(entry.overdue_days(), "day"));
  }
  return entry.due_day();
}

}  // namespace

void Print(const Terminal& terminal, const v1::ClashList& list) {
  std::vector<Row> rows;
  for (const v1::Clash& clash : list.clashes()) {
    rows.push_back({ShortId(clash.id()), clash.subject(), clash.message(), NamesOf(clash.parties()),
                    ArrivalText(clash.loser_arrival()), ArrivalText(clash.winner_arrival()),
                    StandingText(clash.standing())});
  }
  PrintTable(terminal, {"CLASH", "ABOUT", "WHAT", "PARTIES", "LOST", "WON", ""}, rows);
}

void Print(const Terminal& terminal, const v1::Clash& clash) {
  std::vector<Field> fields = {{"clash", ShortId(clash.id())},
                               {"id", clash.id()},
                               {"about", clash.subject()},
                               {"what", clash.message()},
                               {"brought by", clash.keeper().name()},
                               {"parties", NamesOf(clash.parties())},
                               {"state", clash.state()}};
  for (const v1::Settlement& settlement : clash.settlements()) {
    fields.emplace_back("settlement", SettlementText(settlement));
  }
  fields.emplace_back("ended by", clash.ender().name());
  fields.emplace_back("with the words", clash.outcome());
  fields.emplace_back("standing", StandingText(clash.standing()));
  PrintFields(terminal, fields);
}

void Print(const Terminal& terminal, const v1::SheetCheck& check) {
  terminal.out << Clean(check.message()) << '\n';
}

void Print(const Terminal& terminal, const v1::OwedList& list) {
  std::vector<Row> rows;
  for (const v1::Owed& entry : list.entries()) {
    rows.push_back({entry.debtor().name(),
                    entry.creditor().id().empty() ? "all parties" : entry.creditor().name(),
                    entry.sentence(), entry.since_day(), DueText(entry),
                    ShortId(entry.subject().id())});
  }
  PrintTable(terminal, {"OWES", "TO", "WHAT", "SINCE", "DUE", "ID"}, rows);
  for (const v1::PairBalance& pair : list.balances()) {
    terminal.messages << Clean(fmt::format("{} owes {} {}, {} owes {} {}", pair.first().name(),
                                           pair.second().name(),
                                           Counted(pair.slings_of_first(), "sling"),
                                           pair.second().name(), pair.first().name(),
                                           Counted(pair.slings_of_second(), "sling")))
                      << '\n';
  }
}

}  // namespace broodpact::cli
