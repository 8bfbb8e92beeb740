#include "cli/commands/owed.h"

#include <utility>

#include "cli/show/show.h"
#include "client/base/status.h"

namespace broodpact::cli {
namespace {

void DescribeOwed(Command& command, OwedOptions& options) {
  command.Note(
      "Slings to hand over, animals due back, dead arrivals, receipts, signatures and splits, from "
      "both sides. What is overdue comes first; without a day that was agreed nothing is.");
  command.Option("--keeper", "keeper", options.keeper, "Keeper whose accounts (default: yours)");
  command.Option("--with", "keeper", options.with, "Only between the two");
  command.Option("--on", "day", options.on, "Day that overdue is reckoned by (default: today)");
  command.Flag("--overdue", options.overdue, "Only what is overdue");
  command.AddExample("What do I owe, what am I owed?", "broodpact owed");
  command.AddExample("Between tomas and me", "broodpact owed --with tomas");
  command.AddExample("What will be overdue on New Year's Day",
                     "broodpact owed --overdue --on 2027-01-01");
}

}  // namespace

absl::Status RunOwed(const Desk& desk, const OwedOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  const replica::View view = ViewOf(*replica);
  KeeperId keeper = view.self();
  if (!options.keeper.empty()) {
    BP_ASSIGN_OR_RETURN(keeper, view.KeeperNamed(options.keeper));
  }
  std::optional<KeeperId> other;
  if (!options.with.empty()) {
    BP_ASSIGN_OR_RETURN(other, view.KeeperNamed(options.with));
  }
  Day day = desk.surroundings.clock.Today();
  if (!options.on.empty()) {
    BP_ASSIGN_OR_RETURN(day, OneDayOf(desk, "--on", options.on));
  }
  BP_ASSIGN_OR_RETURN(v1::OwedList list, view.Owed(keeper, other, day));
  if (options.overdue) {
    v1::OwedList overdue;
    overdue.set_day(list.day());
    for (const v1::Owed& entry : list.entries()) {
      if (entry.overdue_days() > 0) *overdue.add_entries() = entry;
    }
    list = std::move(overdue);
  }
  return Present(desk, list);
}

void AddOwedCommand(Command& root) {
  root.Add("owed", "Show what you owe and are owed", DescribeOwed, RunOwed);
}

}  // namespace broodpact::cli
