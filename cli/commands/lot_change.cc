// broodpact lot return, pass, divide, merge: lots that change without a handover.

#include <fmt/format.h>

#include "cli/act.h"
#include "cli/commands/lot.h"
#include "cli/commands/option_help.h"
#include "cli/commands/subject.h"
#include "client/replica/acts_clutch.h"

namespace broodpact::cli {
namespace {

void DescribeReturn(Command& command, ReturnLotOptions& options) {
  command.Note(
      "You decline them, and what is still due to you of this clutch: the next split shares them "
      "among the rest by their weights. Slings that were handed over already are given to a "
      "keeper instead.");
  command.Positional("lot", options.lot, kWhichLot);
  command.Number("--slings", "n", options.slings, "How many (default: all of the lot)");
  command.Option("--reason", "text", options.reason, "Why, in your words");
  command.Option("--on", "day", options.on, kOnHelp);
  command.AddExample("You have no room for them",
                     "broodpact lot return f3kq --reason \"no room this year\"");
}

void DescribePass(Command& command, PassLotOptions& options) {
  command.Note("They become the other keeper's at once, and stay where they are.");
  command.Positional("lot", options.lot, kWhichLot);
  command.Number("--slings", "n", options.slings, "How many (default: all of the lot)");
  command.Option("--to", "keeper", options.to, "Keeper whose they become").Required();
  command.Option("--on", "day", options.on, kOnHelp);
  command.AddExample("Let iva have your share", "broodpact lot pass f3kq --to iva");
}

void DescribeDivide(Command& command, DivideLotOptions& options) {
  command.Positional("lot", options.lot, kWhichLot);
  command.Number("--slings", "n", options.slings, "How many become a lot of their own").Required();
  command.Option("--on", "day", options.on, kOnHelp);
  command.AddExample("Keep five apart", "broodpact lot divide f3kq --slings 5");
}

void DescribeMerge(Command& command, MergeLotsOptions& options) {
  command.Note("Lots of one clutch, one owner and one holder; what is under way waits.");
  command.Positional("lot", options.lot, "Lot that has them all afterwards, by id");
  command.Options("--with", "lot", options.with, "Lot that goes into it; may be repeated")
      .Required();
  command.Option("--on", "day", options.on, kOnHelp);
  command.AddExample("Put two back together", "broodpact lot merge f3kq --with q7ma");
}

}  // namespace

absl::Status RunReturnLot(const Desk& desk, const ReturnLotOptions& options) {
  BP_ASSIGN_OR_RETURN(const DaySpan day, DayOf(desk, "--on", options.on));
  BP_ASSIGN_OR_RETURN(const LotSubject subject, LotNamed(desk, options.lot));
  const std::uint32_t slings = options.slings.value_or(subject.lot.slings());
  BP_ASSIGN_OR_RETURN(
      const replica::Acted acted,
      replica::ReturnSlings(
          *subject.replica,
          {.lot = subject.id, .slings = slings, .day = day, .reason = options.reason}));
  const std::string clutch = subject.lot.clutch().name();
  return ReportAct(
      desk, *subject.replica, acted,
      {.message = fmt::format("{} given back to clutch {}: the next split shares them among the "
                              "rest.",
                              Counted(slings, "sling"), clutch),
       .subject = RefOf(subject.id, ""),
       .next = fmt::format("broodpact split {} --preview", clutch)});
}

absl::Status RunPassLot(const Desk& desk, const PassLotOptions& options) {
  BP_ASSIGN_OR_RETURN(const DaySpan day, DayOf(desk, "--on", options.on));
  BP_ASSIGN_OR_RETURN(const LotSubject subject, LotNamed(desk, options.lot));
  const replica::View view = ViewOf(*subject.replica);
  BP_ASSIGN_OR_RETURN(const KeeperId receiver, view.KeeperNamed(options.to));
  BP_ASSIGN_OR_RETURN(const v1::Keeper keeper, view.Keeper(receiver));
  const std::uint32_t slings = options.slings.value_or(subject.lot.slings());
  BP_ASSIGN_OR_RETURN(
      const replica::Made<LotId> made,
      replica::PassSlings(
          *subject.replica,
          {.lot = subject.id, .new_lot = {}, .receiver = receiver, .slings = slings, .day = day}));
  const v1::Ref lot = RefOf(made.id, "");
  return ReportAct(desk, *subject.replica, made.acted,
                   {.message = fmt::format("{} of clutch {} are {}'s now, with {} (lot {}).",
                                           Counted(slings, "sling"), subject.lot.clutch().name(),
                                           keeper.name(), subject.lot.holder().name(), lot.name()),
                    .subject = lot});
}

absl::Status RunDivideLot(const Desk& desk, const DivideLotOptions& options) {
  BP_ASSIGN_OR_RETURN(const DaySpan day, DayOf(desk, "--on", options.on));
  BP_ASSIGN_OR_RETURN(const LotSubject subject, LotNamed(desk, options.lot));
  const std::uint32_t slings = options.slings.value_or(0);  // --slings is required
  BP_ASSIGN_OR_RETURN(
      const replica::Made<LotId> made,
      replica::DivideLot(*subject.replica,
                         {.lot = subject.id, .new_lot = {}, .slings = slings, .day = day}));
  const v1::Ref lot = RefOf(made.id, "");
  return ReportAct(desk, *subject.replica, made.acted,
                   {.message = fmt::format("{} of lot {} are lot {} now.", Counted(slings, "sling"),
                                           ToShortText(subject.id), lot.name()),
                    .subject = lot});
}

absl::Status RunMergeLots(const Desk& desk, const MergeLotsOptions& options) {
  BP_ASSIGN_OR_RETURN(const DaySpan day, DayOf(desk, "--on", options.on));
  BP_ASSIGN_OR_RETURN(const LotSubject subject, LotNamed(desk, options.lot));
  facts::LotMerging merging{.lot = subject.id, .merged = {}, .day = day};
  for (const std::string& name : options.with) {
    BP_ASSIGN_OR_RETURN(const LotId id, ViewOf(*subject.replica).LotNamed(name));
    merging.merged.push_back(id);
  }
  BP_ASSIGN_OR_RETURN(const replica::Acted acted, replica::MergeLots(*subject.replica, merging));
  BP_ASSIGN_OR_RETURN(const v1::Lot lot, ViewOf(*subject.replica).Lot(subject.id));
  return ReportAct(desk, *subject.replica, acted,
                   {.message = fmt::format("Lot {} has {} now.", ToShortText(subject.id),
                                           Counted(lot.slings(), "sling")),
                    .subject = RefOf(subject.id, "")});
}

void AddLotChangeCommands(Command& lot) {
  lot.Add("return", "Give slings of yours back to the clutch", DescribeReturn, RunReturnLot);
  lot.Add("pass", "Pass slings on to another keeper", DescribePass, RunPassLot);
  lot.Add("divide", "Divide a lot in two", DescribeDivide, RunDivideLot);
  lot.Add("merge", "Put lots together", DescribeMerge, RunMergeLots);
}

}  // namespace broodpact::cli
