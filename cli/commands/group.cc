#include "cli/commands/group.h"

#include <optional>
#include <string_view>

#include <fmt/format.h>

#include "cli/act.h"
#include "cli/commands/words.h"
#include "cli/terms/syntax.h"
#include "client/base/status.h"
#include "client/replica/acts_group.h"

namespace broodpact::cli {
namespace {

void DescribeNameGroup(Command& command, NameGroupOptions& options) {
  command.Note(
      "A group is a concept, and names are uses of it: what is accepted today may be a synonym "
      "tomorrow, and the animals stay where they are. Only an accepted name, which a registrar "
      "states, changes what the taxon is called; a misapplied one never does.");
  command.Positional("group", options.group, "Group, by name or id");
  command.Positional("name", options.name, "Name, as it is written");
  command.Option("--status", "what", options.status, "What the name is to the group")
      .OneOf({"accepted", "synonym", "new-combination", "misapplied", "trade-name"})
      .Required();
  command.Option("--since", "day", options.since, "Since when, as 2019 or 2019-05-03");
  command.Option("--source", "text", options.source, "Where that is said");
  command.AddExample("What it was sold as for years",
                     "broodpact group name hamorii-colima \"Brachypelma smithi\" "
                     "--status misapplied --source \"dealers' lists\"");
}

void DescribeSplitGroup(Command& command, SplitGroupOptions& options) {
  command.Note(
      "A registrar splits a group by moving animals into a new one. Each animal keeps which groups "
      "it was in.");
  command.Positional("group", options.group, "Group, by name or id");
  command.Option("--into", "name", options.into, "Short name of the new group").Required();
  command.Options("--animal", "animal", options.animals, "Animal that moves; may be repeated");
  command.Option("--taxon", "name", options.taxon, "Taxon of the new group (default: the same)");
  command.Option("--locality", "name", options.locality, "Coarse locality of the new group");
  command.Option("--line", "name", options.line, "Line within the locality");
  command.Option("--reason", "text", options.reason, "Why");
  command.AddExample("Two localities turn out to be in one group",
                     "broodpact group split hamorii-colima --into hamorii-jalisco "
                     "--animal rosa --animal bh-m-07 --locality Jalisco");
}

void DescribeMergeGroup(Command& command, MergeGroupOptions& options) {
  command.Note(
      "A registrar merges a group into another: all its animals move, the group is closed, and "
      "what others enter in it later goes to its successor. Hybrids of the two stay marked.");
  command.Positional("group", options.group, "Group that ends, by name or id");
  command.Option("--into", "group", options.into, "Group that goes on").Required();
  command.Option("--reason", "text", options.reason, "Why");
  command.AddExample("Two lines are one after all",
                     "broodpact group merge hamorii-jalisco --into hamorii-colima "
                     "--reason \"same collection\"");
}

void DescribeGroupFounders(Command& command, GroupFoundersOptions& options) {
  command.Note(
      "Animals without known parents count as unrelated. Where the trade knows that the founders "
      "of a group came from one import or from few sacs, a registrar says how close they are to "
      "be taken, and every number that rests on it says so. The latest statement stands; 0 takes "
      "it back.");
  command.Positional("group", options.group, "Group, by name or id");
  command
      .Option("--kinship", "fraction", options.kinship,
              "Kinship of any two founders, 0 to 1/2: 1/4 for full sibs, 1/8 for half sibs")
      .Required();
  command.Option("--reason", "text", options.reason, "Why");
  command.AddExample("All came from one sac",
                     "broodpact group founders hamorii-colima --kinship 1/4 "
                     "--reason \"one sac, imported 2015\"");
}

// "1/8", or "0".
absl::Status ReadFraction(std::string_view text, facts::FounderKinship& kinship) {
  const std::size_t slash = text.find('/');
  const auto above = WholeNumber(text.substr(0, slash));
  const auto below = slash == std::string_view::npos ? std::optional<std::uint32_t>(1)
                                                     : WholeNumber(text.substr(slash + 1));
  if (!above || !below || *below == 0 || *below > facts::kKinshipDenominatorMax ||
      *above > *below / 2) {
    return Fail(absl::StatusCode::kInvalidArgument, "USAGE",
                fmt::format("'{}' is no kinship; give a fraction from 0 to 1/2 with a denominator "
                            "up to {}, such as 1/8",
                            text, facts::kKinshipDenominatorMax));
  }
  kinship.numerator = *above;
  kinship.denominator = *below;
  return absl::OkStatus();
}

}  // namespace

absl::Status RunNameGroup(const Desk& desk, const NameGroupOptions& options) {
  facts::NameUse use{
      .name = options.name, .status = NameStatusOf(options.status), .source = options.source};
  if (!options.since.empty()) {
    BP_ASSIGN_OR_RETURN(use.since, DayOf(desk, "--since", options.since));
  }
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToAct(desk));
  BP_ASSIGN_OR_RETURN(use.group, ViewOf(*replica).GroupNamed(options.group));
  BP_ASSIGN_OR_RETURN(const replica::Acted acted, replica::RecordName(*replica, use));
  const bool accepted = use.status == facts::NameStatus::kAccepted;
  return ReportAct(
      desk, *replica, acted,
      {.message = accepted ? fmt::format("{} is {} now.", options.group, options.name)
                           : fmt::format("{} is noted for {}; the group is called as before.",
                                         options.name, options.group),
       .subject = RefOf(use.group, options.group)});
}

absl::Status RunSplitGroup(const Desk& desk, const SplitGroupOptions& options) {
  if (options.animals.empty()) {
    return Fail(absl::StatusCode::kInvalidArgument, "USAGE",
                "say which animals move, with --animal for each");
  }
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToAct(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const GroupId id, view.GroupNamed(options.group));
  BP_ASSIGN_OR_RETURN(const v1::Group group, view.Group(id));
  std::vector<AnimalId> animals;
  for (const std::string& name : options.animals) {
    BP_ASSIGN_OR_RETURN(const AnimalId animal, view.AnimalNamed(name));
    BP_ASSIGN_OR_RETURN(const v1::Animal known, view.Animal(animal));
    if (known.group().id() != group.id()) {
      return Fail(
          absl::StatusCode::kInvalidArgument, "USAGE",
          fmt::format("{} is of group {}, not of {}", name, known.group().name(), group.name()));
    }
    animals.push_back(animal);
  }
  BP_ASSIGN_OR_RETURN(
      const replica::Made<GroupId> made,
      replica::SplitGroup(*replica,
                          {.group = {},
                           .name = options.into,
                           .taxon = options.taxon.empty() ? group.taxon() : options.taxon,
                           .locality = options.locality,
                           .line = options.line},
                          animals, options.reason));
  return ReportAct(
      desk, *replica, made.acted,
      {.message = fmt::format("Moved {} from {} to group {}.", Counted(animals.size(), "animal"),
                              group.name(), options.into),
       .subject = RefOf(made.id, options.into)});
}

absl::Status RunMergeGroup(const Desk& desk, const MergeGroupOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToAct(desk));
  const replica::View view = ViewOf(*replica);
  facts::GroupClosure closure{.reason = options.reason};
  BP_ASSIGN_OR_RETURN(closure.group, view.GroupNamed(options.group));
  BP_ASSIGN_OR_RETURN(closure.successor, view.GroupNamed(options.into));
  BP_ASSIGN_OR_RETURN(const replica::Merger merger, replica::MergeGroup(*replica, closure));
  return ReportAct(desk, *replica, merger.acted,
                   {.message = fmt::format("{} goes on as {}, with {} more.", options.group,
                                           options.into, Counted(merger.animals, "animal")),
                    .subject = RefOf(closure.successor, options.into)});
}

absl::Status RunGroupFounders(const Desk& desk, const GroupFoundersOptions& options) {
  facts::FounderKinship kinship{.reason = options.reason};
  BP_RETURN_IF_ERROR(ReadFraction(options.kinship, kinship));
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToAct(desk));
  BP_ASSIGN_OR_RETURN(kinship.group, ViewOf(*replica).GroupNamed(options.group));
  BP_ASSIGN_OR_RETURN(const replica::Acted acted, replica->Act({kinship}));
  return ReportAct(
      desk, *replica, acted,
      {.message =
           kinship.numerator == 0
               ? fmt::format("Founders of {} count as unrelated.", options.group)
               : fmt::format("Founders of {} count as kin by {}.", options.group, options.kinship),
       .subject = RefOf(kinship.group, options.group)});
}

void AddGroupNameCommands(Command& group) {
  group.Add("name", "State what a name is to a group", DescribeNameGroup, RunNameGroup);
  group.Add("split", "Split animals off into a new group", DescribeSplitGroup, RunSplitGroup);
  group.Add("founders", "Say how close founders are taken to be", DescribeGroupFounders,
            RunGroupFounders);
  group.Add("merge", "Merge a group into another", DescribeMergeGroup, RunMergeGroup);
}

}  // namespace broodpact::cli
