#include "cli/commands/find.h"

#include <limits>

#include <fmt/format.h>

#include "cli/commands/plan.h"
#include "cli/expectations.h"
#include "cli/show/show.h"
#include "client/base/status.h"

namespace broodpact::cli {
namespace {

constexpr char kOnHelp[] = "Day of the pairing, as 2027-02-01 (default: today)";

absl::Status CheckAsked(std::string_view animal, std::string_view animal_option,
                        std::string_view group) {
  if (!animal.empty() || !group.empty()) return absl::OkStatus();
  return Fail(absl::StatusCode::kInvalidArgument, "USAGE",
              fmt::format("say {} <animal> or --group <group>, or both", animal_option));
}

absl::Status NoMatch(std::string_view what) {
  return Fail(absl::StatusCode::kNotFound, "NO_MATCH",
              fmt::format("no {} here now; sync for news, or ask for another day", what));
}

void DescribeFindMale(Command& command, FindMaleOptions& options) {
  command.Note(
      "Looks through this replica, with no network. Each criterion is shown, and the order is "
      "explained. Days left are estimated from the lives of the group's own males, else of its "
      "genus, else from the trade's table, and then called a prior; an expectations.tsv in your "
      "folder takes the place of that table.");
  command.Option("--for", "female", options.for_female, "Female that he is for");
  command.Option("--group", "group", options.group, "Breeding group (default: the female's)");
  command.Option("--on", "day", options.on, kOnHelp);
  command.Option("--inbreeding-max", "number", options.inbreeding_max,
                 "Inbreeding of the offspring at most, 0 to 1");
  command.Number("--left-days-min", "n", options.left_days_min,
                 "Expected days of life left at least; males without data stay");
  command.Number("--distance-max", "km", options.distance_max,
                 "Coarse distance at most; males whose distance is not known stay");
  command.Number("--pairings-max", "n", options.pairings_max, "Paired at most so often");
  command.Flag("--free", options.free, "Leave out who is promised past the day");
  command
      .Options("--ignore", "criterion", options.ignored,
               "Criterion that takes no part in the order; may be repeated")
      .OneOf({"availability", "maturity", "inbreeding", "time-left", "freshness", "distance",
              "pairings"});
  command.Flag("--why", options.why, "Say why each stands where he stands");
  command.Number("--limit", "n", options.limit, "At most so many (default: 50)");
  command.AddExample("Mature males for a female, the best first", "broodpact find male --for rosa");
  command.AddExample("Not closer than cousins' offspring, in February",
                     "broodpact find male --for rosa --inbreeding-max 0.0625 --on 2027-02-01");
  command.AddExample("All mature males of a group, the nearest first",
                     "broodpact find male --group hamorii-colima --ignore inbreeding "
                     "--ignore time-left --ignore freshness --why");
}

void DescribeFindFemale(Command& command, FindFemaleOptions& options) {
  command.Option("--for", "male", options.for_male, "Male that she is for");
  command.Option("--group", "group", options.group, "Breeding group (default: the male's)");
  command.Option("--on", "day", options.on, kOnHelp);
  command.Option("--inbreeding-max", "number", options.inbreeding_max,
                 "Inbreeding of the offspring at most, 0 to 1");
  command.Number("--distance-max", "km", options.distance_max,
                 "Coarse distance at most; females whose distance is not known stay");
  command.Number("--limit", "n", options.limit, "At most so many (default: 50)");
  command.AddExample("Females for a male, the freshest moult first",
                     "broodpact find female --for bh-m-07");
}

void DescribeFindHome(Command& command, FindHomeOptions& options) {
  command.Note("Shows who has said with want add that they seek slings of the group.");
  command.Positional("group", options.group, "Breeding group, by name or id");
  command.Number("--distance-max", "km", options.distance_max,
                 "Coarse distance at most; keepers whose distance is not known stay");
  command.Number("--limit", "n", options.limit, "At most so many (default: 50)");
  command.AddExample("Who would take slings?", "broodpact find home hamorii-colima");
}

match::Criterion CriterionOf(const std::string& word) {
  using match::Criterion;
  if (word == "maturity") return Criterion::kMaturity;
  if (word == "inbreeding") return Criterion::kInbreeding;
  if (word == "time-left") return Criterion::kTimeLeft;
  if (word == "freshness") return Criterion::kFreshness;
  if (word == "distance") return Criterion::kDistance;
  if (word == "pairings") return Criterion::kPairings;
  return Criterion::kAvailability;
}

void DescribeKin(Command& command, KinOptions& options) {
  command.Note(
      "The kinship of two animals is the inbreeding of their offspring. Unknown parents count as "
      "unrelated, so the number is a lower bound.");
  command.Positional("first", options.first, "Animal, by name or id");
  command.Positional("second", options.second, "Animal, by name or id");
  command.AddExample("How close are they?", "broodpact kin rosa bh-m-07");
}

}  // namespace

absl::Status RunFindMale(const Desk& desk, const FindMaleOptions& options) {
  BP_RETURN_IF_ERROR(CheckAsked(options.for_female, "--for", options.group));
  replica::MaleQuery query;
  query.today = desk.surroundings.clock.Today();
  BP_ASSIGN_OR_RETURN(query.day, OneDayOf(desk, "--on", options.on));
  BP_ASSIGN_OR_RETURN(query.offspring_inbreeding_max, InbreedingOf(options.inbreeding_max));
  if (options.left_days_min) {
    constexpr std::uint32_t kMax = std::numeric_limits<std::int32_t>::max();
    query.left_days_min = static_cast<std::int32_t>(std::min(*options.left_days_min, kMax));
  }
  if (options.limit) query.count_max = *options.limit;
  query.distance_km_max = options.distance_max;
  query.pairings_max = options.pairings_max;
  if (options.free) query.availability_max = match::Availability::kPromisedBefore;
  for (const std::string& word : options.ignored) query.ignored.push_back(CriterionOf(word));
  if (options.why) query.reasons = replica::Reasons::kGiven;
  BP_ASSIGN_OR_RETURN(const auto expectations, OwnExpectations(desk));
  if (expectations) query.expectations = &*expectations;
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  const replica::View view = ViewOf(*replica);
  if (!options.for_female.empty()) {
    BP_ASSIGN_OR_RETURN(query.female, view.AnimalNamed(options.for_female));
  }
  if (!options.group.empty()) {
    BP_ASSIGN_OR_RETURN(query.group, view.GroupNamed(options.group));
  }
  BP_ASSIGN_OR_RETURN(const v1::MaleMatchList list, view.FindMales(query));
  BP_RETURN_IF_ERROR(Present(desk, list));
  return list.matches_size() > 0 ? absl::OkStatus() : NoMatch("mature male fits");
}

absl::Status RunFindFemale(const Desk& desk, const FindFemaleOptions& options) {
  BP_RETURN_IF_ERROR(CheckAsked(options.for_male, "--for", options.group));
  replica::FemaleQuery query;
  BP_ASSIGN_OR_RETURN(query.day, OneDayOf(desk, "--on", options.on));
  BP_ASSIGN_OR_RETURN(query.offspring_inbreeding_max, InbreedingOf(options.inbreeding_max));
  if (options.limit) query.count_max = *options.limit;
  query.distance_km_max = options.distance_max;
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  const replica::View view = ViewOf(*replica);
  if (!options.for_male.empty()) {
    BP_ASSIGN_OR_RETURN(query.male, view.AnimalNamed(options.for_male));
  }
  if (!options.group.empty()) {
    BP_ASSIGN_OR_RETURN(query.group, view.GroupNamed(options.group));
  }
  BP_ASSIGN_OR_RETURN(const v1::FemaleMatchList list, view.FindFemales(query));
  BP_RETURN_IF_ERROR(Present(desk, list));
  return list.matches_size() > 0 ? absl::OkStatus() : NoMatch("female fits");
}

absl::Status RunFindHome(const Desk& desk, const FindHomeOptions& options) {
  replica::HomeQuery query{.day = desk.surroundings.clock.Today(),
                           .distance_km_max = options.distance_max};
  if (options.limit) query.count_max = *options.limit;
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(query.group, view.GroupNamed(options.group));
  BP_ASSIGN_OR_RETURN(const v1::HomeMatchList list, view.FindHomes(query));
  BP_RETURN_IF_ERROR(Present(desk, list));
  return list.matches_size() > 0 ? absl::OkStatus() : NoMatch("keeper seeks slings of the group");
}

absl::Status RunKin(const Desk& desk, const KinOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const AnimalId first, view.AnimalNamed(options.first));
  BP_ASSIGN_OR_RETURN(const AnimalId second, view.AnimalNamed(options.second));
  BP_ASSIGN_OR_RETURN(const v1::Kinship kinship, view.Kinship(first, second));
  return Present(desk, kinship);
}

void AddFindCommands(Command& root) {
  Command& find = root.AddGroup("find", "Search the cooperative for a mate, or a home");
  find.Add("male", "Find mature males of a group", DescribeFindMale, RunFindMale);
  find.Add("female", "Find females of a group", DescribeFindFemale, RunFindFemale);
  find.Add("home", "Find keepers who seek slings of a group", DescribeFindHome, RunFindHome);
  root.Add("kin", "Show how close two animals are", DescribeKin, RunKin);
}

}  // namespace broodpact::cli
