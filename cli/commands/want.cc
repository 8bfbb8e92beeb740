#include "cli/commands/want.h"

#include <fmt/format.h>

#include "cli/act.h"
#include "cli/show/show.h"
#include "client/base/status.h"
#include "client/replica/acts_plan.h"

namespace broodpact::cli {
namespace {

facts::WantKind KindOf(const std::string& word) {
  if (word == "male") return facts::WantKind::kMale;
  if (word == "female") return facts::WantKind::kFemale;
  return facts::WantKind::kSlings;
}

void DescribeAddWant(Command& command, AddWantOptions& options) {
  command.Note(
      "A want is seen by all members, so that they find you (find home), and sync tells you when "
      "something fits that did not before, on each of your devices. It promises nothing.");
  command.Positional("group", options.group, "Breeding group, by name or id");
  command.Option("--what", "what", options.what, "What you are looking for (default: slings)")
      .OneOf({"slings", "male", "female"});
  command.Number("--count", "n", options.count, "How many");
  command.Option("--until", "day", options.until, "Last day of interest (default: until ended)");
  command.Option("--note", "text", options.note, "Anything else, in words");
  command.AddExample("Look for slings to raise", "broodpact want add hamorii-colima --count 10");
  command.AddExample("Be told when a male is free",
                     "broodpact want add hamorii-colima --what male --until 2027-04-01");
}

void DescribeEndWant(Command& command, EndWantOptions& options) {
  command.Positional("want", options.want, "Want of yours, by the beginning of its id");
  command.AddExample("Stop looking", "broodpact want end 2s4kq");
}

void DescribeListWants(Command& command, ListWantsOptions& /*options*/) {
  command.AddExample("What is wanted, and what fits mine", "broodpact want list");
}

}  // namespace

absl::Status RunAddWant(const Desk& desk, const AddWantOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToAct(desk));
  const replica::View view = ViewOf(*replica);
  facts::WantEntry want{
      .kind = KindOf(options.what), .count = options.count.value_or(0), .note = options.note};
  BP_ASSIGN_OR_RETURN(want.group, view.GroupNamed(options.group));
  if (!options.until.empty()) {
    BP_ASSIGN_OR_RETURN(want.until, OneDayOf(desk, "--until", options.until));
  }
  BP_ASSIGN_OR_RETURN(const replica::Made<WantId> made, replica::StateWant(*replica, want));
  const std::string what = want.kind == facts::WantKind::kSlings ? "slings" : "a " + options.what;
  return ReportAct(desk, *replica, made.acted,
                   {.message = fmt::format("You are looking for {} of {} (want {}).", what,
                                           options.group, ToShortText(made.id)),
                    .subject = RefOf(made.id, "")});
}

absl::Status RunEndWant(const Desk& desk, const EndWantOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToAct(desk));
  BP_ASSIGN_OR_RETURN(const WantId want, ViewOf(*replica).WantNamed(options.want));
  BP_ASSIGN_OR_RETURN(const replica::Acted acted, replica::EndWant(*replica, want));
  return ReportAct(
      desk, *replica, acted,
      {.message = fmt::format("Want {} is ended.", ToShortText(want)), .subject = RefOf(want, "")});
}

absl::Status RunListWants(const Desk& desk, const ListWantsOptions& /*options*/) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  BP_ASSIGN_OR_RETURN(const v1::WantList list,
                      ViewOf(*replica).Wants(desk.surroundings.clock.Today()));
  return Present(desk, list);
}

void AddWantCommands(Command& root) {
  Command& want = root.AddGroup("want", "Say what you are looking for");
  want.Add("add", "Look for slings, a male or a female", DescribeAddWant, RunAddWant);
  want.Add("end", "Stop looking", DescribeEndWant, RunEndWant);
  want.Add("list", "List what is wanted, and what fits yours", DescribeListWants, RunListWants);
}

}  // namespace broodpact::cli
