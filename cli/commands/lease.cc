#include "cli/commands/lease.h"

#include <fmt/format.h>

#include "cli/act.h"
#include "client/base/status.h"
#include "client/replica/acts_member.h"

namespace broodpact::cli {
namespace {

void DescribeTakeLease(Command& command, TakeLeaseOptions& options) {
  command.Note(
      "While a lease stands, no other device of yours gives, lends, sends or passes on what is "
      "leased, so that what you promise here with no network is firm. It is firm itself once it "
      "has arrived: sync before you go offline. It ends with its last day by the log's clock.");
  command.Option("--animal", "animal", options.animal, "Animal that you own or hold");
  command.Option("--lot", "lot", options.lot, "Lot of yours, with --slings");
  command.Number("--slings", "n", options.slings, "How many of its slings");
  command.Option("--until", "day", options.until, "Last day; at most 92 days from now").Required();
  command.AddExample("Take a male to a show, to promise him there",
                     "broodpact lease take --animal bh-m-07 --until 2026-06-07 && broodpact sync");
  command.AddExample("Ten slings to give away at the meeting",
                     "broodpact lease take --lot rosa-26 --slings 10 --until 2026-06-07");
}

void DescribeReleaseLease(Command& command, ReleaseLeaseOptions& options) {
  command.Option("--animal", "animal", options.animal, "Animal");
  command.Option("--lot", "lot", options.lot, "Lot");
  command.AddExample("The show is over", "broodpact lease release --animal bh-m-07");
}

absl::Status CheckOneOf(const std::string& animal, const std::string& lot) {
  if (animal.empty() != lot.empty()) return absl::OkStatus();
  return Fail(absl::StatusCode::kInvalidArgument, "USAGE",
              "a lease is of an animal or of a lot: give --animal or --lot");
}

absl::Status CheckSlings(const TakeLeaseOptions& options) {
  if (options.lot.empty() != options.slings.has_value()) return absl::OkStatus();
  return Fail(absl::StatusCode::kInvalidArgument, "USAGE",
              "--slings goes with --lot, and says how many of it");
}

}  // namespace

absl::Status RunTakeLease(const Desk& desk, const TakeLeaseOptions& options) {
  BP_RETURN_IF_ERROR(CheckOneOf(options.animal, options.lot));
  BP_RETURN_IF_ERROR(CheckSlings(options));
  BP_ASSIGN_OR_RETURN(const Day until, OneDayOf(desk, "--until", options.until));
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToAct(desk));
  const replica::View view = ViewOf(*replica);
  std::string what = options.animal + " is";
  replica::Made<LeaseId> made;
  if (options.lot.empty()) {
    BP_ASSIGN_OR_RETURN(const AnimalId animal, view.AnimalNamed(options.animal));
    BP_ASSIGN_OR_RETURN(made, replica::LeaseAnimal(*replica, animal, until));
  } else {
    const std::uint32_t slings = options.slings.value_or(0);  // CheckSlings: there are some
    what = fmt::format("{} of lot {} {}", Counted(slings, "sling"), options.lot,
                       slings == 1 ? "is" : "are");
    BP_ASSIGN_OR_RETURN(const LotId lot, view.LotNamed(options.lot));
    BP_ASSIGN_OR_RETURN(made, replica::LeaseSlings(*replica, lot, slings, until));
  }
  return ReportAct(
      desk, *replica, made.acted,
      {.message = fmt::format("{} leased by this device until {}, once this has arrived "
                              "(lease {}).",
                              what, ToText(until), ToShortText(made.id)),
       .subject = RefOf(made.id, "")});
}

absl::Status RunReleaseLease(const Desk& desk, const ReleaseLeaseOptions& options) {
  BP_RETURN_IF_ERROR(CheckOneOf(options.animal, options.lot));
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToAct(desk));
  const replica::View view = ViewOf(*replica);
  const std::string& what = options.animal.empty() ? options.lot : options.animal;
  replica::Acted acted;
  v1::Ref subject;
  if (options.lot.empty()) {
    BP_ASSIGN_OR_RETURN(const AnimalId animal, view.AnimalNamed(options.animal));
    BP_ASSIGN_OR_RETURN(acted, replica::ReleaseAnimal(*replica, animal));
    subject = RefOf(animal, what);
  } else {
    BP_ASSIGN_OR_RETURN(const LotId lot, view.LotNamed(options.lot));
    BP_ASSIGN_OR_RETURN(acted, replica::ReleaseLot(*replica, lot));
    subject = RefOf(lot, what);
  }
  return ReportAct(
      desk, *replica, acted,
      {.message = fmt::format("The lease on {} is released.", what), .subject = subject});
}

void AddLeaseCommands(Command& root) {
  Command& lease = root.AddGroup("lease", "Keep something for this device's promises");
  lease.Add("take", "Lease an animal or slings of a lot", DescribeTakeLease, RunTakeLease);
  lease.Add("release", "Give a lease up", DescribeReleaseLease, RunReleaseLease);
}

}  // namespace broodpact::cli
