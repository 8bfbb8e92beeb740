#include "cli/commands/find.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <limits>
#include <string_view>
#include <utility>

#include <fmt/format.h>

#include "cli/commands/kin_chart.h"
#include "cli/commands/plan.h"
#include "cli/expectations.h"
#include "cli/show/show.h"
#include "client/base/status.h"

namespace broodpact::cli {
namespace {

constexpr char kPairingDayHelp[] = "Day of the pairing, as 2027-02-01 (default: today)";
constexpr char kIgnoreHelp[] = "Criterion that takes no part in the order; may be repeated";
constexpr char kBordersHelp[] = "Leave out who lives abroad; keepers who have not said where stay";
constexpr char kGainHelp[] =
    "Gain in gene diversity at least, -1 to 1, as 0 for no loss; who has none computed stays";

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
  command.Option("--on", "day", options.on, kPairingDayHelp);
  command.Option("--inbreeding-max", "number", options.inbreeding_max,
                 "Inbreeding of the offspring at most, 0 to 1");
  command.Number("--left-days-min", "n", options.left_days_min,
                 "Expected days of life left at least; males without data stay");
  command.Number("--distance-max", "km", options.distance_max,
                 "Coarse distance at most; males whose distance is not known stay");
  command.Number("--pairings-max", "n", options.pairings_max, "Paired at most so often");
  command.Number("--mature-days-max", "n", options.mature_days_max,
                 "Mature for so many days at most");
  command.Option("--gain-min", "number", options.gain_min, kGainHelp);
  command.Flag("--free", options.free, "Leave out who is promised past the day");
  command.Flag("--within-borders", options.within_borders, kBordersHelp);
  command.Options("--ignore", "criterion", options.ignored, kIgnoreHelp)
      .OneOf({"availability", "maturity", "inbreeding", "time-left", "gain", "freshness",
              "distance", "pairings"});
  command.Flag("--why", options.why, "Say why each stands where he stands");
  command.Number("--limit", "n", options.limit, "At most so many (default: 50)").AtLeast(1);
  command.AddExample("Mature males for a female, the best first", "broodpact find male --for rosa");
  command.AddExample("Not closer than cousins' offspring, in February",
                     "broodpact find male --for rosa --inbreeding-max 0.0625 --on 2027-02-01");
  command.AddExample("All mature males of a group, the nearest first",
                     "broodpact find male --group hamorii-colima --ignore inbreeding "
                     "--ignore time-left --ignore freshness --why");
}

void DescribeFindFemale(Command& command, FindFemaleOptions& options) {
  command.Note(
      "A female is ready that is known to be mature, has no sac, and has moulted or laid since she "
      "was last paired. Each criterion is shown, and the order is explained.");
  command.Option("--for", "male", options.for_male, "Male that she is for");
  command.Option("--group", "group", options.group, "Breeding group (default: the male's)");
  command.Option("--on", "day", options.on, kPairingDayHelp);
  command.Option("--inbreeding-max", "number", options.inbreeding_max,
                 "Inbreeding of the offspring at most, 0 to 1");
  command.Number("--distance-max", "km", options.distance_max,
                 "Coarse distance at most; females whose distance is not known stay");
  command.Number("--moult-days-max", "n", options.moult_days_max,
                 "Moulted so many days before at most; females without a moult on record stay");
  command.Option("--gain-min", "number", options.gain_min, kGainHelp);
  command.Flag("--free", options.free, "Leave out who is promised past the day");
  command.Flag("--ready", options.ready, "Leave out who is occupied or not known to be mature");
  command.Flag("--within-borders", options.within_borders, kBordersHelp);
  command.Options("--ignore", "criterion", options.ignored, kIgnoreHelp)
      .OneOf({"availability", "readiness", "inbreeding", "gain", "moult", "distance"});
  command.Flag("--why", options.why, "Say why each stands where she stands");
  command.Number("--limit", "n", options.limit, "At most so many (default: 50)").AtLeast(1);
  command.AddExample("Females for a male, the freshest moult first",
                     "broodpact find female --for bh-m-07");
  command.AddExample("Only those that could be paired now, with reasons",
                     "broodpact find female --for bh-m-07 --ready --free --why");
}

void DescribeFindHome(Command& command, FindHomeOptions& options) {
  command.Note("Shows who has said with want add that they seek slings of the group.");
  command.Positional("group", options.group, "Breeding group, by name or id");
  command.Number("--distance-max", "km", options.distance_max,
                 "Coarse distance at most; keepers whose distance is not known stay");
  command.Number("--slings-min", "n", options.slings_min,
                 "Seeks so many at least; keepers who have not said how many stay");
  command.Flag("--within-borders", options.within_borders, kBordersHelp);
  command.Options("--ignore", "criterion", options.ignored, kIgnoreHelp)
      .OneOf({"distance", "entry", "slings"});
  command.Flag("--why", options.why, "Say why each stands where it stands");
  command.Number("--limit", "n", options.limit, "At most so many (default: 50)").AtLeast(1);
  command.AddExample("Who would take slings?", "broodpact find home hamorii-colima");
}

// What words of the command line stand for; words that are none have been refused before.
template <typename Criterion, std::size_t kCount>
std::vector<Criterion> CriteriaOf(
    const std::array<std::pair<std::string_view, Criterion>, kCount>& known,
    const std::vector<std::string>& words) {
  std::vector<Criterion> criteria;
  for (const std::string& word : words) {
    for (const auto& [name, criterion] : known) {
      if (name == word) criteria.push_back(criterion);
    }
  }
  return criteria;
}

constexpr std::array<std::pair<std::string_view, match::Criterion>, match::kCriteria>
    kMaleCriteria = {{{"availability", match::Criterion::kAvailability},
                      {"maturity", match::Criterion::kMaturity},
                      {"inbreeding", match::Criterion::kInbreeding},
                      {"time-left", match::Criterion::kTimeLeft},
                      {"gain", match::Criterion::kGain},
                      {"freshness", match::Criterion::kFreshness},
                      {"distance", match::Criterion::kDistance},
                      {"pairings", match::Criterion::kPairings}}};
constexpr std::array<std::pair<std::string_view, match::FemaleCriterion>, match::kFemaleCriteria>
    kFemaleCriteria = {{{"availability", match::FemaleCriterion::kAvailability},
                        {"readiness", match::FemaleCriterion::kBreeding},
                        {"inbreeding", match::FemaleCriterion::kInbreeding},
                        {"gain", match::FemaleCriterion::kGain},
                        {"moult", match::FemaleCriterion::kMoult},
                        {"distance", match::FemaleCriterion::kDistance}}};
constexpr std::array<std::pair<std::string_view, match::HomeCriterion>, match::kHomeCriteria>
    kHomeCriteria = {{{"distance", match::HomeCriterion::kDistance},
                      {"entry", match::HomeCriterion::kEntry},
                      {"slings", match::HomeCriterion::kSlings}}};

match::Borders BordersOf(bool within_borders) {
  return within_borders ? match::Borders::kKept : match::Borders::kCrossed;
}

// Days of an option, where it was given.
std::optional<std::int32_t> DaysOf(const std::optional<std::uint32_t>& days) {
  constexpr std::uint32_t kMax = std::numeric_limits<std::int32_t>::max();
  if (!days) return std::nullopt;
  return static_cast<std::int32_t>(std::min(*days, kMax));
}

absl::StatusOr<std::optional<double>> GainOf(const std::string& text) {
  if (text.empty()) return std::optional<double>();
  double gain = 0;
  const char* const end = text.data() + text.size();
  const auto [rest, error] = std::from_chars(text.data(), end, gain);
  if (error != std::errc() || rest != end || !(gain >= -1 && gain <= 1)) {
    return Fail(absl::StatusCode::kInvalidArgument, "USAGE",
                fmt::format("'{}' is no gain in gene diversity; give a number from -1 to 1, such "
                            "as 0.001",
                            text));
  }
  return std::optional(gain);
}

void DescribeKin(Command& command, KinOptions& options) {
  command.Note(
      "The kinship of two animals is the inbreeding of their offspring. Unknown parents count as "
      "unrelated, so the number is a lower bound; where a registrar has stated how close the "
      "founders of a group are to be taken (group founders), it rests on that, and says so.");
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
  BP_ASSIGN_OR_RETURN(query.diversity_gain_min, GainOf(options.gain_min));
  query.left_days_min = DaysOf(options.left_days_min);
  query.mature_days_max = DaysOf(options.mature_days_max);
  query.borders = BordersOf(options.within_borders);
  if (options.limit) query.count_max = *options.limit;
  query.distance_km_max = options.distance_max;
  query.pairings_max = options.pairings_max;
  if (options.free) query.availability_max = match::Availability::kPromisedBefore;
  query.ignored = CriteriaOf(kMaleCriteria, options.ignored);
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
  BP_ASSIGN_OR_RETURN(query.bounds.offspring_inbreeding_max, InbreedingOf(options.inbreeding_max));
  BP_ASSIGN_OR_RETURN(query.bounds.diversity_gain_min, GainOf(options.gain_min));
  query.bounds.distance_km_max = options.distance_max;
  query.bounds.moult_days_max = DaysOf(options.moult_days_max);
  if (options.free) query.bounds.availability_max = match::Availability::kPromisedBefore;
  if (options.ready) query.bounds.breeding_max = match::Breeding::kReady;
  query.bounds.borders = BordersOf(options.within_borders);
  query.ignored = CriteriaOf(kFemaleCriteria, options.ignored);
  if (options.why) query.reasons = replica::Reasons::kGiven;
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

absl::Status RunFindHome(const Desk& desk, const FindHomeOptions& options) {
  replica::HomeQuery query{
      .day = desk.surroundings.clock.Today(),
      .bounds = {.distance_km_max = options.distance_max,
                 .slings_min = options.slings_min,
                 .borders = BordersOf(options.within_borders)},
      .ignored = CriteriaOf(kHomeCriteria, options.ignored),
      .reasons = options.why ? replica::Reasons::kGiven : replica::Reasons::kLeftOut};
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
  AddKinChartCommand(root.Add("kin", "Show how close two animals are", DescribeKin, RunKin));
}

}  // namespace broodpact::cli
