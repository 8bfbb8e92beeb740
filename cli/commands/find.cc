#include "cli/commands/find.h"

#include <charconv>
#include <limits>

#include <fmt/format.h>

#include "cli/commands/kin_chart.h"
#include "cli/show/show.h"
#include "client/base/status.h"

namespace broodpact::cli {
namespace {

constexpr char kOnHelp[] = "Day of the pairing, as 2027-02-01 (default: today)";

absl::StatusOr<std::optional<double>> BoundOf(const std::string& text) {
  if (text.empty()) return std::optional<double>();
  double bound = 0;
  const char* const end = text.data() + text.size();
  const auto [stop, error] = std::from_chars(text.data(), end, bound);
  if (stop != end || error != std::errc() || !(bound >= 0 && bound <= 1)) {
    return Fail(
        absl::StatusCode::kInvalidArgument, "USAGE",
        fmt::format("--inbreeding-max wants a number from 0 to 1, such as 0.125, not '{}'", text));
  }
  return std::optional<double>(bound);
}

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
      "explained; days left are estimated from the cooperative's own males, and left out where "
      "there are too few.");
  command.Option("--for", "female", options.for_female, "Female that he is for");
  command.Option("--group", "group", options.group, "Breeding group (default: the female's)");
  command.Option("--on", "day", options.on, kOnHelp);
  command.Option("--inbreeding-max", "number", options.inbreeding_max,
                 "Inbreeding of the offspring at most, 0 to 1");
  command.Number("--left-days-min", "n", options.left_days_min,
                 "Expected days of life left at least; males without data stay");
  command.Number("--limit", "n", options.limit, "At most so many (default: 50)");
  command.AddExample("Mature males for a female, the best first", "broodpact find male --for rosa");
  command.AddExample("Not closer than cousins' offspring, in February",
                     "broodpact find male --for rosa --inbreeding-max 0.0625 --on 2027-02-01");
  command.AddExample("All mature males of a group", "broodpact find male --group hamorii-colima");
}

void DescribeFindFemale(Command& command, FindFemaleOptions& options) {
  command.Option("--for", "male", options.for_male, "Male that she is for");
  command.Option("--group", "group", options.group, "Breeding group (default: the male's)");
  command.Option("--on", "day", options.on, kOnHelp);
  command.Option("--inbreeding-max", "number", options.inbreeding_max,
                 "Inbreeding of the offspring at most, 0 to 1");
  command.Number("--limit", "n", options.limit, "At most so many (default: 50)");
  command.AddExample("Females for a male, the freshest moult first",
                     "broodpact find female --for bh-m-07");
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
  BP_ASSIGN_OR_RETURN(query.offspring_inbreeding_max, BoundOf(options.inbreeding_max));
  if (options.left_days_min) {
    constexpr std::uint32_t kMax = std::numeric_limits<std::int32_t>::max();
    query.left_days_min = static_cast<std::int32_t>(std::min(*options.left_days_min, kMax));
  }
  if (options.limit) query.count_max = *options.limit;
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
  BP_ASSIGN_OR_RETURN(query.offspring_inbreeding_max, BoundOf(options.inbreeding_max));
  if (options.limit) query.count_max = *options.limit;
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

absl::Status RunKin(const Desk& desk, const KinOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const AnimalId first, view.AnimalNamed(options.first));
  BP_ASSIGN_OR_RETURN(const AnimalId second, view.AnimalNamed(options.second));
  BP_ASSIGN_OR_RETURN(const v1::Kinship kinship, view.Kinship(first, second));
  return Present(desk, kinship);
}

void AddFindCommands(Command& root) {
  Command& find = root.AddGroup("find", "Search the cooperative for a mate");
  find.Add("male", "Find mature males of a group", DescribeFindMale, RunFindMale);
  find.Add("female", "Find females of a group", DescribeFindFemale, RunFindFemale);
  AddKinChartCommand(root.Add("kin", "Show how close two animals are", DescribeKin, RunKin));
}

}  // namespace broodpact::cli
