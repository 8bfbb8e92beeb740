// Clutches, splits and lots as tables.

#include <fmt/format.h>

#include "cli/show/phrases.h"
#include "cli/show/show.h"
#include "cli/terminal/table.h"

namespace broodpact::cli {
namespace {

std::string CountText(const v1::CountEvent& count) {
  std::string text =
      fmt::format("{} living, {} dead on {} by {}: {}", count.slings_living(), count.slings_dead(),
                  count.day(), count.keeper().name(), count.state());
  if (count.state() == "rival") text += fmt::format(" (token {})", count.token());
  return text;
}

std::string AccountsText(const v1::Accounts& accounts) {
  return fmt::format("{} hatched = {} living + {} dead + {} raised + {} unaccounted for",
                     accounts.slings_hatched(), accounts.slings_living(), accounts.slings_dead(),
                     accounts.slings_raised(), accounts.slings_unaccounted());
}

std::string LotText(const v1::Lot& lot) {
  std::string text = fmt::format("{} of {}, with {}", Counted(lot.slings(), "sling"),
                                 lot.owner().name(), lot.holder().name());
  if (!lot.receiver().id().empty()) {
    text += fmt::format(", on the way to {}", lot.receiver().name());
  }
  return text + fmt::format(" ({})", ShortId(lot.id()));
}

// What is particular about a share; nothing where the party simply has it.
std::string ShareText(const v1::PartyShare& share) {
  if (share.given_up()) {
    return fmt::format("{} gave up what is due beyond {}", share.party().name(),
                       Counted(share.slings(), "sling"));
  }
  if (share.party().id() == share.keeper().id()) return "";
  return fmt::format("that of {} is {}'s", share.party().name(), share.keeper().name());
}

}  // namespace

void Print(const Terminal& terminal, const v1::Clutch& clutch) {
  std::vector<Field> fields = {
      {"clutch", clutch.name()},          {"id", clutch.id()},
      {"mother", clutch.female().name()}, {"state", clutch.state()},
      {"laid", clutch.laying_day()},      {"pulled", clutch.pulling_day()},
      {"lost", clutch.loss_day()},        {"cause", clutch.loss_cause()},
      {"loan", clutch.loan().name()},     {"possible sires", NamesOf(clutch.possible_sires())}};
  for (const v1::CountEvent& count : clutch.counts()) {
    fields.emplace_back("count", CountText(count));
  }
  if (clutch.counts_size() > 0) fields.emplace_back("slings", AccountsText(clutch.accounts()));
  for (const v1::PartyShare& share : clutch.parties()) {
    const std::string text = ShareText(share);
    if (!text.empty()) fields.emplace_back("share", text);
  }
  if (!clutch.due().loan().id().empty()) {
    fields.emplace_back("due runs with it", DueText(clutch.due()));
  }
  fields.emplace_back("offered with it to", clutch.offered().name());
  for (const v1::Lot& lot : clutch.lots()) fields.emplace_back("lot", LotText(lot));
  for (const v1::Clash& clash : clutch.clashes()) {
    fields.emplace_back(
        "clash", fmt::format("{} ({}, {})", clash.message(), clash.state(), ShortId(clash.id())));
  }
  for (const std::string& warning : clutch.warnings()) fields.emplace_back("look at", warning);
  fields.emplace_back("standing", StandingText(clutch.standing()));
  PrintFields(terminal, fields);
}

void Print(const Terminal& terminal, const v1::ClutchList& list) {
  std::vector<Row> rows;
  for (const v1::Clutch& clutch : list.clutches()) {
    rows.push_back({clutch.name(), clutch.female().name(), clutch.laying_day(), clutch.state(),
                    std::to_string(clutch.accounts().slings_living()), clutch.loan().name(),
                    ShortId(clutch.id()), StandingText(clutch.standing())});
  }
  PrintTable(terminal, {"CLUTCH", "MOTHER", "LAID", "STATE", "LIVING", "LOAN", "ID", ""}, rows);
}

void Print(const Terminal& terminal, const v1::Split& split) {
  // Off a terminal the rows stay alone on `out`: a program wants no prose between them.
  std::ostream& working = terminal.out_is_tty ? terminal.out : terminal.messages;
  for (const std::string& line : split.working()) working << Clean(line) << '\n';
  if (terminal.out_is_tty) working << '\n';
  std::vector<Row> rows;
  for (const v1::SplitPart& part : split.parts()) {
    rows.push_back({part.keeper().name(), std::to_string(part.slings()),
                    part.lot().id().empty() ? "" : ShortId(part.lot().id())});
  }
  PrintTable(terminal, {"KEEPER", "SLINGS", "LOT"}, rows);
  for (const std::string& warning : split.warnings()) {
    terminal.messages << Toned(terminal, Tone::kLookAtIt, "Look at: ") << Clean(warning) << '\n';
  }
}

void Print(const Terminal& terminal, const v1::PickingOrder& order) {
  std::ostream& working = terminal.out_is_tty ? terminal.out : terminal.messages;
  for (const std::string& line : order.working()) working << Clean(line) << '\n';
  if (terminal.out_is_tty) working << '\n';
  std::vector<Row> rows;
  for (const v1::Pick& pick : order.picks()) {
    rows.push_back({std::to_string(pick.number()), pick.keeper().name()});
  }
  PrintTable(terminal, {"PICK", "KEEPER"}, rows);
}

void Print(const Terminal& terminal, const v1::Lot& lot) {
  std::vector<Field> fields = {{"lot", ShortId(lot.id())},
                               {"id", lot.id()},
                               {"clutch", lot.clutch().name()},
                               {"slings", std::to_string(lot.slings())},
                               {"owner", lot.owner().name()},
                               {"holder", lot.holder().name()},
                               {"on its way to", lot.receiver().name()}};
  if (lot.slings_dead_on_arrival() > 0) {
    fields.emplace_back(
        "dead on arrival",
        fmt::format("{}, {} made good", lot.slings_dead_on_arrival(), lot.slings_made_good()));
  }
  for (const v1::Lease& lease : lot.leases()) fields.emplace_back("leased", LeaseText(lease));
  fields.emplace_back("standing", StandingText(lot.standing()));
  PrintFields(terminal, fields);
  if (terminal.out_is_tty) terminal.out << '\n';
  std::vector<Row> rows;
  for (const v1::StoryLine& line : lot.story()) {
    rows.push_back({line.day(), line.sentence(), line.keeper().name(),
                    line.arrival() == 0 ? "not delivered" : std::to_string(line.arrival())});
  }
  PrintTable(terminal, {"DAY", "WHAT", "SAYS", "ARRIVAL"}, rows);
}

void Print(const Terminal& terminal, const v1::LotList& list) {
  std::vector<Row> rows;
  for (const v1::Lot& lot : list.lots()) {
    rows.push_back({ShortId(lot.id()), lot.clutch().name(), std::to_string(lot.slings()),
                    lot.owner().name(), lot.holder().name(), lot.receiver().name(),
                    StandingText(lot.standing())});
  }
  PrintTable(terminal, {"LOT", "CLUTCH", "SLINGS", "OWNER", "HOLDER", "ON ITS WAY TO", ""}, rows);
}

}  // namespace broodpact::cli
