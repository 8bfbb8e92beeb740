#include "cli/commands/share.h"

#include <algorithm>
#include <vector>

#include <fmt/format.h>

#include "cli/act.h"
#include "cli/commands/option_help.h"
#include "cli/commands/subject.h"
#include "client/replica/acts_clash.h"
#include "client/replica/acts_clutch.h"

namespace broodpact::cli {
namespace {

constexpr char kWhichClutch[] = "Clutch, by name or id";

// The shares that a keeper has of a clutch, also those that it has given up.
std::vector<const v1::PartyShare*> SharesHeld(const v1::Clutch& clutch, const std::string& keeper) {
  std::vector<const v1::PartyShare*> held;
  for (const v1::PartyShare& share : clutch.parties()) {
    if (share.keeper().id() == keeper) held.push_back(&share);
  }
  return held;
}

absl::Status SeveralShares(const ClutchSubject& subject,
                           const std::vector<const v1::PartyShare*>& held) {
  std::string parties;
  for (const v1::PartyShare* share : held) {
    parties += (parties.empty() ? "" : ", ") + share->party().name();
    if (share->given_up()) parties += " (given up)";
  }
  return Fail(absl::StatusCode::kInvalidArgument, "AMBIGUOUS_SUBJECT",
              fmt::format("you have several shares of {}, those of {}; say whose by --party",
                          subject.ref.name(), parties));
}

// The party of the agreement whose share it is: as said, else the keeper itself, else the one whose
// share it has. Of several nothing is guessed: what is given up does not come back.
absl::StatusOr<KeeperId> PartyOf(const ClutchSubject& subject, const std::string& text) {
  const replica::View view = ViewOf(*subject.replica);
  if (!text.empty()) return view.KeeperNamed(text);
  const std::string self = ToText(view.self());
  const std::vector<const v1::PartyShare*> held = SharesHeld(subject.clutch, self);
  const bool has_own = std::ranges::any_of(held, [&](const v1::PartyShare* share) {
    return share->party().id() == self && !share->given_up();
  });
  if (has_own) return view.self();
  if (held.size() > 1) return SeveralShares(subject, held);
  if (!held.empty()) return view.KeeperNamed(held.front()->party().id());
  return Fail(absl::StatusCode::kPermissionDenied, "NOT_PARTY",
              fmt::format("you have no share of {}; sac show says who has", subject.ref.name()));
}

void DescribeLate(Command& command, LateOptions& options) {
  command.Note(
      "For slings that hatch after the count: they add to the clutch and wait for a split. A count "
      "that was wrong is counted again instead.");
  command.Positional("clutch", options.clutch, kWhichClutch);
  command.Number("--slings", "n", options.slings, "How many hatched").Required();
  command.Option("--on", "day", options.on, kOnHelp);
  command.AddExample("Three more came out", "broodpact sac late rosa-26 --slings 3");
}

void DescribeDecline(Command& command, WaiveShareOptions& options) {
  command.Note(
      "What is still due to you is shared among the rest by their weights. Slings that became "
      "yours by a split go back with broodpact lot return.");
  command.Positional("clutch", options.clutch, kWhichClutch);
  command.Option("--party", "keeper", options.party,
                 "Party whose share it is, where you have several (default: yours)");
  command.Option("--reason", "text", options.reason, "Why, in your words");
  command.AddExample("You want none of them", "broodpact share decline rosa-26");
}

void DescribePass(Command& command, WaiveShareOptions& options) {
  command.Note("The other keeper gets your share of this clutch. Shared-out slings: lot pass.");
  command.Positional("clutch", options.clutch, kWhichClutch);
  command.Option("--to", "keeper", options.to, "Keeper who gets it").Required();
  command.Option("--party", "keeper", options.party,
                 "Party whose share it is, where you have several (default: yours)");
  command.Option("--reason", "text", options.reason, "Why, in your words");
  command.AddExample("Let iva have it", "broodpact share pass rosa-26 --to iva");
}

void DescribeGiveSac(Command& command, GiveSacOptions& options) {
  command.Note(
      "For good, as long as it is not shared out. The due of its loan runs with it: say so with "
      "--with-due. It changes hands when the other keeper accepts.");
  command.Positional("clutch", options.clutch, kWhichClutch);
  command.Option("--to", "keeper", options.to, "Keeper who gets it").Required();
  command.Flag("--with-due", options.with_due, "Disclose the due, and carry it over");
  command.Option("--on", "day", options.on, kOnHelp);
  command.AddExample("Give a sac on with its due",
                     "broodpact sac give rosa-26 --to iva --with-due");
}

void DescribeAcceptSac(Command& command, AcceptSacOptions& options) {
  command.Note(
      "You sign the agreement of its loan and take the giver's place in it: read it first with "
      "broodpact loan show.");
  command.Positional("clutch", options.clutch, kWhichClutch);
  command.AddExample("Take it", "broodpact sac accept rosa-26");
}

void DescribeAcceptAnimal(Command& command, AcceptAnimalOptions& options) {
  command.Note(
      "You sign the agreements whose dues run with her and take the giver's place in them: read "
      "them first with broodpact loan show.");
  command.Positional("animal", options.animal, "Animal, by name or id");
  command.AddExample("Take a mated female with her due", "broodpact animal accept tomas/rosa");
}

void DescribeLeave(Command& command, LeaveOptions& options) {
  command.Note(
      "Your lots and dues are the successor's to receive, hand over, count and sign for. You may "
      "name another, or take it back by naming yourself. For a keeper who named nobody, and "
      "has left or has no device left, a registrar decides.");
  command.Option("--successor", "keeper", options.successor, "Keeper who follows").Required();
  command.Option("--keeper", "keeper", options.keeper,
                 "Keeper who left (registrars; default: you)");
  command.Option("--reason", "text", options.reason, "Why, in your words");
  command.Option("--on", "day", options.on, kOnHelp);
  command.AddExample("You leave", "broodpact keeper leave --successor iva");
  command.AddExample("One has vanished, and a registrar decides",
                     "broodpact keeper leave --keeper bela --successor mira --reason \"no word\"");
}

absl::Status Waive(const Desk& desk, const WaiveShareOptions& options, KeeperId receiver,
                   const ClutchSubject& subject, std::string message) {
  BP_ASSIGN_OR_RETURN(const KeeperId party, PartyOf(subject, options.party));
  BP_ASSIGN_OR_RETURN(
      const replica::Acted acted,
      replica::WaiveShare(
          *subject.replica,
          {.clutch = subject.id, .party = party, .receiver = receiver, .reason = options.reason}));
  return ReportAct(desk, *subject.replica, acted,
                   {.message = std::move(message), .subject = subject.ref});
}

}  // namespace

absl::Status ConfirmDue(const Desk& desk, const std::string& what, const std::string& loans,
                        bool with_due) {
  if (with_due) return absl::OkStatus();
  const std::string runs = fmt::format("the due of loan {} runs with {}", loans, what);
  if (desk.terminal.out_is_tty && desk.terminal.messages_are_tty) {
    desk.terminal.messages << Clean(fmt::format("Note: {}. Who gets {} has to accept it. ", runs,
                                                what))
                           << "Give it on with its due? [y/N] ";
    desk.terminal.messages.flush();
    std::string answer;
    std::getline(desk.in, answer);
    if (answer == "y" || answer == "yes") return absl::OkStatus();
  }
  return Fail(absl::StatusCode::kFailedPrecondition, "DUE_UNDISCLOSED",
              fmt::format("{}; say --with-due to disclose it and carry it over; nothing is "
                          "recorded",
                          runs));
}

absl::Status RunLate(const Desk& desk, const LateOptions& options) {
  BP_ASSIGN_OR_RETURN(const DaySpan day, DayOf(desk, "--on", options.on));
  BP_ASSIGN_OR_RETURN(const ClutchSubject subject, ClutchNamed(desk, options.clutch));
  const std::uint32_t slings = options.slings.value_or(0);  // --slings is required
  BP_ASSIGN_OR_RETURN(
      const replica::Acted acted,
      replica::HatchLate(*subject.replica, {.clutch = subject.id, .slings = slings, .day = day}));
  return ReportAct(
      desk, *subject.replica, acted,
      {.message = fmt::format("{} more of clutch {} hatched on {}.", Counted(slings, "sling"),
                              subject.ref.name(), ToText(day)),
       .subject = subject.ref,
       .next = fmt::format("broodpact split {} --preview", subject.ref.name())});
}

absl::Status RunDeclineShare(const Desk& desk, const WaiveShareOptions& options) {
  BP_ASSIGN_OR_RETURN(const ClutchSubject subject, ClutchNamed(desk, options.clutch));
  return Waive(desk, options, {}, subject,
               fmt::format("Given up: what was still due of {} goes to the rest by their weights.",
                           subject.ref.name()));
}

absl::Status RunPassShare(const Desk& desk, const WaiveShareOptions& options) {
  BP_ASSIGN_OR_RETURN(const ClutchSubject subject, ClutchNamed(desk, options.clutch));
  const replica::View view = ViewOf(*subject.replica);
  BP_ASSIGN_OR_RETURN(const KeeperId receiver, view.KeeperNamed(options.to));
  BP_ASSIGN_OR_RETURN(const v1::Keeper keeper, view.Keeper(receiver));
  const bool shared_before = std::ranges::any_of(
      subject.clutch.parties(), [](const v1::PartyShare& share) { return share.slings() > 0; });
  const std::string rest =
      shared_before
          ? " It is of what is still to be shared out: what was shared out stays with who "
            "has it, and goes on by `broodpact lot pass`."
          : "";
  return Waive(
      desk, options, receiver, subject,
      fmt::format("The share of {} is {}'s now.{}", subject.ref.name(), keeper.name(), rest));
}

absl::Status RunGiveSac(const Desk& desk, const GiveSacOptions& options) {
  BP_ASSIGN_OR_RETURN(const DaySpan day, DayOf(desk, "--on", options.on));
  BP_ASSIGN_OR_RETURN(const ClutchSubject subject, ClutchNamed(desk, options.clutch));
  const replica::View view = ViewOf(*subject.replica);
  BP_ASSIGN_OR_RETURN(const KeeperId receiver, view.KeeperNamed(options.to));
  BP_ASSIGN_OR_RETURN(const v1::Keeper keeper, view.Keeper(receiver));
  const std::string& loan = subject.clutch.loan().name();
  if (!loan.empty()) {
    BP_RETURN_IF_ERROR(ConfirmDue(desk, subject.ref.name(), loan, options.with_due));
  }
  BP_ASSIGN_OR_RETURN(
      const replica::Acted acted,
      replica::GiveSac(*subject.replica,
                       {.clutch = subject.id, .receiver = receiver, .due_loan = {}, .day = day}));
  const std::string due = loan.empty() ? "" : fmt::format(" with the due of loan {}", loan);
  return ReportAct(
      desk, *subject.replica, acted,
      {.message = fmt::format("Sac {} is offered to {}{}; it is yours until {} accepts.",
                              subject.ref.name(), keeper.name(), due, keeper.name()),
       .subject = subject.ref});
}

absl::Status RunAcceptSac(const Desk& desk, const AcceptSacOptions& options) {
  BP_ASSIGN_OR_RETURN(const ClutchSubject subject, ClutchNamed(desk, options.clutch));
  BP_ASSIGN_OR_RETURN(const replica::Acted acted, replica::AcceptSac(*subject.replica, subject.id));
  return ReportAct(
      desk, *subject.replica, acted,
      {.message = fmt::format("Sac {} is yours, with all that is due of it.", subject.ref.name()),
       .subject = subject.ref});
}

absl::Status RunAcceptAnimal(const Desk& desk, const AcceptAnimalOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToAct(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const AnimalId id, view.AnimalNamed(options.animal));
  BP_ASSIGN_OR_RETURN(const replica::Acted acted, replica::AcceptAnimal(*replica, id));
  BP_ASSIGN_OR_RETURN(const v1::Animal animal, ViewOf(*replica).Animal(id));
  return ReportAct(
      desk, *replica, acted,
      {.message = fmt::format("{} is yours, with the dues that run with her.", animal.name()),
       .subject = RefOf(id, animal.name())});
}

absl::Status RunLeave(const Desk& desk, const LeaveOptions& options) {
  BP_ASSIGN_OR_RETURN(const DaySpan day, DayOf(desk, "--on", options.on));
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToAct(desk));
  const replica::View view = ViewOf(*replica);
  KeeperId leaver = view.self();
  if (!options.keeper.empty()) {
    BP_ASSIGN_OR_RETURN(leaver, view.KeeperNamed(options.keeper));
  }
  BP_ASSIGN_OR_RETURN(KeeperId successor, view.KeeperNamed(options.successor));
  BP_ASSIGN_OR_RETURN(const v1::Keeper left, view.Keeper(leaver));
  BP_ASSIGN_OR_RETURN(const v1::Keeper keeper, view.Keeper(successor));
  const bool comes_back = successor == leaver;
  if (comes_back) successor = {};
  BP_ASSIGN_OR_RETURN(
      const replica::Acted acted,
      replica::NameSuccessor(
          *replica,
          {.keeper = leaver, .successor = successor, .reason = options.reason, .day = day}));
  std::string message = fmt::format("{} acts for itself again.", left.name());
  if (!comes_back) {
    message = fmt::format("{} acts for {} from {} on: lots and dues.", keeper.name(), left.name(),
                          ToText(day));
  }
  return ReportAct(desk, *replica, acted,
                   {.message = message, .subject = RefOf(leaver, left.name())});
}

void AddShareCommands(Command& root) {
  Command& share = root.AddGroup("share", "Give up or pass on a share of a clutch");
  share.Add("decline", "Give up what is still due to you", DescribeDecline, RunDeclineShare);
  share.Add("pass", "Pass your share of a clutch on", DescribePass, RunPassShare);
}

void AddSacGivingCommands(Command& sac) {
  sac.Add("late", "Record slings that hatched after the count", DescribeLate, RunLate);
  sac.Add("give", "Offer a sac to another keeper for good", DescribeGiveSac, RunGiveSac);
  sac.Add("accept", "Accept a sac with its due", DescribeAcceptSac, RunAcceptSac);
}

void AddAcceptCommand(Command& animal) {
  animal.Add("accept", "Accept a female with her dues", DescribeAcceptAnimal, RunAcceptAnimal);
}

void AddLeaveCommand(Command& keeper) {
  keeper.Add("leave", "Say who follows a keeper who leaves", DescribeLeave, RunLeave);
}

}  // namespace broodpact::cli
