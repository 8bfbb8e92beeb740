#include "cli/commands/lot.h"

#include <fmt/format.h>

#include "cli/act.h"
#include "cli/commands/option_help.h"
#include "cli/commands/subject.h"
#include "cli/commands/words.h"
#include "cli/show/show.h"
#include "client/replica/acts_clutch.h"

namespace broodpact::cli {
namespace {

// What is left of a lot, for the end of a sentence.
absl::StatusOr<std::string> LeftText(const LotSubject& subject) {
  BP_ASSIGN_OR_RETURN(const v1::Lot lot, ViewOf(*subject.replica).Lot(subject.id));
  return fmt::format("{} left in the lot", Counted(lot.slings(), "sling"));
}

absl::StatusOr<KeeperId> ReceiverOf(const LotSubject& subject, const std::string& to) {
  if (!to.empty()) return ViewOf(*subject.replica).KeeperNamed(to);
  BP_ASSIGN_OR_RETURN(const registry::Lot lot,
                      replica::Known<registry::Lot>(*subject.replica, subject.id, "lot"));
  if (lot.owner != lot.holder) return lot.owner;
  return Fail(absl::StatusCode::kInvalidArgument, "USAGE",
              fmt::format("lot {} is with its owner already; say who gets it with --to",
                          ToShortText(subject.id)));
}

void DescribeList(Command& command, ListLotsOptions& options) {
  command.Option("--keeper", "keeper", options.keeper, "Lots of this keeper (default: yours)");
  command.AddExample("What you own, hold or are to receive", "broodpact lot list");
}

void DescribeShow(Command& command, ShowLotOptions& options) {
  command.Note(
      "The story begins with the sac: who counted, shared, sent, received and lost, each line with "
      "its day and who said so.");
  command.Positional("lot", options.lot, kWhichLot);
  command.AddExample("Where did these come from?", "broodpact lot show f3kq");
}

void DescribeGive(Command& command, GiveLotOptions& options) {
  command.Note(
      "A promise: the slings travel as a parcel, and change hands when they are received. Who "
      "only holds a lot may give it to its owner alone.");
  command.Positional("lot", options.lot, kWhichLot);
  command.Number("--slings", "n", options.slings, "How many (default: all of the lot)");
  command.Option("--to", "keeper", options.to, "Keeper who gets them (default: the lot's owner)");
  command.Option("--replaces", "parcel", options.replaces,
                 "They make dead arrivals of this parcel good");
  command.Option("--on", "day", options.on, kOnHelp);
  command.AddExample("Hand a part over to its owner", "broodpact lot give f3kq --slings 24");
  command.AddExample("Give two of your own away", "broodpact lot give f3kq --slings 2 --to iva");
  command.AddExample("Make two dead arrivals good",
                     "broodpact lot give f3kq --slings 2 --to iva --replaces q7ma");
}

void DescribeReceive(Command& command, ReceiveLotOptions& options) {
  command.Note(
      "A fact. What was sent and neither arrived alive nor dead is booked as unaccounted, openly.");
  command.Positional("parcel", options.parcel, "Parcel, by id; lot list has it");
  command.Number("--living", "n", options.living, "Alive on arrival").Required();
  command.Number("--dead", "n", options.dead, "Dead on arrival (default: 0)");
  command.Option("--on", "day", options.on, kOnHelp);
  command.AddExample("All but one arrived alive",
                     "broodpact lot receive q7ma --living 23 --dead 1");
}

void DescribeLose(Command& command, LoseLotOptions& options) {
  command.Positional("lot", options.lot, kWhichLot);
  command.Number("--slings", "n", options.slings, "How many died or were lost").Required();
  command.Option("--on", "day", options.on, kOnHelp);
  command.Option("--cause", "text", options.cause, "Cause, in your words");
  command.AddExample("Two died in a moult",
                     "broodpact lot lose f3kq --slings 2 --cause \"bad moult\"");
}

void DescribeRaise(Command& command, RaiseLotOptions& options) {
  command.Note("One sling leaves the lot and becomes an animal, with the clutch as its origin.");
  command.Positional("lot", options.lot, kWhichLot);
  command.Option("--name", "name", options.name, "Short name of the animal").Required();
  command.Option("--sex", "sex", options.sex, "Sex, if it can be told")
      .OneOf({"female", "male", "unknown"});
  command.Option("--on", "day", options.on, kOnHelp);
  command.AddExample("Give one of them a name", "broodpact lot raise f3kq --name bh-26-01");
}

}  // namespace

absl::Status RunListLots(const Desk& desk, const ListLotsOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  const replica::View view = ViewOf(*replica);
  KeeperId keeper = view.self();
  if (!options.keeper.empty()) {
    BP_ASSIGN_OR_RETURN(keeper, view.KeeperNamed(options.keeper));
  }
  BP_ASSIGN_OR_RETURN(const v1::LotList list, view.LotsOf(keeper));
  return Present(desk, list);
}

absl::Status RunShowLot(const Desk& desk, const ShowLotOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const LotId id, view.LotNamed(options.lot));
  BP_ASSIGN_OR_RETURN(const v1::Lot lot, view.Lot(id));
  return Present(desk, lot);
}

absl::Status RunGiveLot(const Desk& desk, const GiveLotOptions& options) {
  BP_ASSIGN_OR_RETURN(const DaySpan day, DayOf(desk, "--on", options.on));
  BP_ASSIGN_OR_RETURN(const LotSubject subject, LotNamed(desk, options.lot));
  BP_ASSIGN_OR_RETURN(const KeeperId receiver, ReceiverOf(subject, options.to));
  const std::uint32_t slings = options.slings.value_or(subject.lot.slings());
  LotId replaced;
  if (!options.replaces.empty()) {
    BP_ASSIGN_OR_RETURN(replaced, ViewOf(*subject.replica).LotNamed(options.replaces));
  }
  BP_ASSIGN_OR_RETURN(const replica::Made<LotId> made,
                      replica::SendSlings(*subject.replica, {.lot = subject.id,
                                                             .parcel = {},
                                                             .receiver = receiver,
                                                             .slings = slings,
                                                             .day = day,
                                                             .replaced = replaced}));
  BP_ASSIGN_OR_RETURN(const v1::Keeper keeper, ViewOf(*subject.replica).Keeper(receiver));
  const v1::Ref parcel = RefOf(made.id, "");
  return ReportAct(
      desk, *subject.replica, made.acted,
      {.message = fmt::format("{} of clutch {} on the way to {} (parcel {}); yours to answer for "
                              "until {} receives them.",
                              Counted(slings, "sling"), subject.lot.clutch().name(), keeper.name(),
                              parcel.name(), keeper.name()),
       .subject = parcel});
}

absl::Status RunReceiveLot(const Desk& desk, const ReceiveLotOptions& options) {
  BP_ASSIGN_OR_RETURN(const DaySpan day, DayOf(desk, "--on", options.on));
  BP_ASSIGN_OR_RETURN(const LotSubject subject, LotNamed(desk, options.parcel));
  const std::uint32_t living = options.living.value_or(0);  // --living is required
  const std::uint32_t dead = options.dead.value_or(0);
  BP_ASSIGN_OR_RETURN(
      const replica::Acted acted,
      replica::ReceiveSlings(
          *subject.replica,
          {.parcel = subject.id, .slings_living = living, .slings_dead = dead, .day = day}));
  return ReportAct(
      desk, *subject.replica, acted,
      {.message = fmt::format("Received {} of clutch {} alive, {} dead.", Counted(living, "sling"),
                              subject.lot.clutch().name(), dead),
       .subject = RefOf(subject.id, "")});
}

absl::Status RunLoseLot(const Desk& desk, const LoseLotOptions& options) {
  BP_ASSIGN_OR_RETURN(const DaySpan day, DayOf(desk, "--on", options.on));
  BP_ASSIGN_OR_RETURN(const LotSubject subject, LotNamed(desk, options.lot));
  const std::uint32_t slings = options.slings.value_or(0);  // --slings is required
  BP_ASSIGN_OR_RETURN(
      const replica::Acted acted,
      replica::LoseSlings(
          *subject.replica,
          {.lot = subject.id, .slings = slings, .day = day, .cause = options.cause}));
  BP_ASSIGN_OR_RETURN(const std::string left, LeftText(subject));
  return ReportAct(desk, *subject.replica, acted,
                   {.message = fmt::format("{} of clutch {} lost; {}.", Counted(slings, "sling"),
                                           subject.lot.clutch().name(), left),
                    .subject = RefOf(subject.id, "")});
}

absl::Status RunRaiseLot(const Desk& desk, const RaiseLotOptions& options) {
  BP_ASSIGN_OR_RETURN(const DaySpan day, DayOf(desk, "--on", options.on));
  BP_ASSIGN_OR_RETURN(const LotSubject subject, LotNamed(desk, options.lot));
  BP_ASSIGN_OR_RETURN(const replica::Made<AnimalId> made,
                      replica::RaiseSling(*subject.replica, {.lot = subject.id,
                                                             .animal = {},
                                                             .name = options.name,
                                                             .sex = SexOf(options.sex),
                                                             .day = day}));
  BP_ASSIGN_OR_RETURN(const std::string left, LeftText(subject));
  return ReportAct(desk, *subject.replica, made.acted,
                   {.message = fmt::format("{} is raised out of clutch {}; {}.", options.name,
                                           subject.lot.clutch().name(), left),
                    .subject = RefOf(made.id, options.name)});
}

void AddLotCommands(Command& root) {
  Command& lot = root.AddGroup("lot", "Hand slings over, lose them, raise them");
  lot.Add("list", "List lots and parcels", DescribeList, RunListLots);
  lot.Add("show", "Show one lot and its story from the sac", DescribeShow, RunShowLot);
  lot.Add("give", "Send slings of a lot to a keeper", DescribeGive, RunGiveLot);
  lot.Add("receive", "Record that a parcel arrived", DescribeReceive, RunReceiveLot);
  lot.Add("lose", "Record slings of a lot as dead or lost", DescribeLose, RunLoseLot);
  lot.Add("raise", "Make an animal out of a sling", DescribeRaise, RunRaiseLot);
  AddLotChangeCommands(lot);
}

}  // namespace broodpact::cli
