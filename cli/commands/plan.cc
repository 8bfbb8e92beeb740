#include "cli/commands/plan.h"

#include <charconv>

#include <fmt/format.h>

#include "cli/act.h"
#include "cli/commands/terms_help.h"
#include "cli/confirm.h"
#include "cli/expectations.h"
#include "cli/show/show.h"
#include "cli/terms/terms.h"
#include "client/base/status.h"
#include "client/replica/acts_plan.h"

namespace broodpact::cli {
namespace {

// Kinship of half sibs: where no ceiling is said, no closer pair is planned.
constexpr double kInbreedingMax = 0.125;
constexpr std::uint32_t kPerMaleMax = 16;

void DescribePlan(Command& command, PlanOptions& options) {
  command.Note(
      "Plans the pairings of a group over all keepers, so that the sacs expected keep as much gene "
      "diversity as they can. A plan proposes; nothing is recorded unless you say --offer. Keepers "
      "keep animals out with veto add.");
  command.Positional("group", options.group, "Breeding group, by name or id");
  command.Option("--on", "day", options.on, "Day of the pairings (default: today)");
  command.Option("--inbreeding-max", "number", options.inbreeding_max,
                 "Inbreeding of the offspring at most (default: 0.125; 1: no ceiling)");
  command.Number("--distance-max", "km", options.distance_max,
                 "No journey longer than that, where a distance is known");
  command.Number("--per-male", "n", options.per_male, "Females of one male at most (default: 2)");
  command.Number("--turn-days", "n", options.turn_days,
                 "Days of a male's life for each female (default: 28)");
  command.Flag("--offer", options.offer, "Offer your own males as the plan has it, in one step");
  command.Option("--until", "day", options.until, "With --offer: day they are due back");
  command.Flag("--yes", options.yes, "With --offer: do not ask first");
  command.AddExample("Plan a season", "broodpact plan hamorii-colima --on 2027-03-01");
  command.AddExample("Offer your males accordingly, in equal shares",
                     "broodpact plan hamorii-colima --offer --until 2027-06-01");
}

void DescribeVeto(Command& command, VetoOptions& options) {
  command.Option("--animal", "animal", options.animal,
                 "Animal of yours that it is about (default: all of yours)");
  command.Option("--with-animal", "animal", options.with_animal, "Not to be paired with this one");
  command.Option("--with-keeper", "keeper", options.with_keeper,
                 "Not to be paired with animals of this keeper");
}

void DescribeAddVeto(Command& command, VetoOptions& options) {
  command.Note(
      "A veto concerns computed plans only; it forbids nobody to lend or to pair. It is read as "
      "long as you own or hold the animal, and all members see it.");
  DescribeVeto(command, options);
  command.AddExample("Keep a female out of all plans", "broodpact veto add --animal rosa");
  command.AddExample("No pairings with a keeper's animals",
                     "broodpact veto add --with-keeper bela");
}

void DescribeLiftVeto(Command& command, VetoOptions& options) {
  command.Note("Names the veto as it was added.");
  DescribeVeto(command, options);
  command.AddExample("Let a female into plans again", "broodpact veto lift --animal rosa");
}

void DescribeListVetoes(Command& command, ListVetoesOptions& /*options*/) {
  command.AddExample("All vetoes that stand", "broodpact veto list");
}

// The terms of an offer that follows from a plan: equal shares of the two.
absl::Status Complete(const Desk& desk, const replica::View& view, const PlanOptions& options,
                      replica::LoanDraft& draft) {
  if (!options.until.empty()) {
    BP_ASSIGN_OR_RETURN(draft.return_day, OneDayOf(desk, "--until", options.until));
  }
  const TermsParties parties{.lender = draft.lender,
                             .borrower = draft.borrower,
                             .lender_role = facts::PartyRole::kMaleOwner,
                             .borrower_role = facts::PartyRole::kFemaleOwner};
  BP_ASSIGN_OR_RETURN(draft.terms, ParseTerms({}, parties, LookupIn(desk, view)));
  return absl::OkStatus();
}

absl::StatusOr<std::string> JourneysOf(const replica::View& view,
                                       const std::vector<replica::LoanDraft>& drafts) {
  std::string journeys;
  for (const replica::LoanDraft& draft : drafts) {
    BP_ASSIGN_OR_RETURN(const v1::Animal animal, view.Animal(draft.animal));
    BP_ASSIGN_OR_RETURN(const v1::Keeper keeper, view.Keeper(draft.borrower));
    journeys +=
        fmt::format("{}{} to {}", journeys.empty() ? "" : ", ", animal.name(), keeper.name());
  }
  return journeys;
}

absl::Status Offer(const Desk& desk, replica::Replica& replica, const v1::Plan& plan,
                   const PlanOptions& options) {
  BP_ASSIGN_OR_RETURN(std::vector<replica::LoanDraft> drafts, replica::OffersOf(replica, plan));
  if (drafts.empty()) {
    return Fail(absl::StatusCode::kNotFound, "NOTHING_TO_OFFER",
                "the plan sends no male that is yours, here and not offered yet to another keeper");
  }
  const replica::View view = ViewOf(replica);
  for (replica::LoanDraft& draft : drafts) {
    BP_RETURN_IF_ERROR(Complete(desk, view, options, draft));
  }
  BP_ASSIGN_OR_RETURN(const std::string journeys, JourneysOf(view, drafts));
  BP_RETURN_IF_ERROR(Confirm(desk,
                             fmt::format("Offer {}, in equal shares of the slings?", journeys),
                             options.yes ? Consent::kGiven : Consent::kAsk));
  BP_ASSIGN_OR_RETURN(const replica::Acted acted, replica::OfferAll(replica, drafts));
  return ReportAct(
      desk, replica, acted,
      {.message = fmt::format("Offered {}. Each is in force when its borrower signs.", journeys),
       .subject = plan.group()});
}

absl::StatusOr<replica::PlanQuery> QueryOf(const Desk& desk, const PlanOptions& options) {
  replica::PlanQuery query;
  query.today = desk.surroundings.clock.Today();
  BP_ASSIGN_OR_RETURN(query.day, OneDayOf(desk, "--on", options.on));
  BP_ASSIGN_OR_RETURN(query.offspring_inbreeding_max, InbreedingOf(options.inbreeding_max));
  if (options.inbreeding_max.empty()) query.offspring_inbreeding_max = kInbreedingMax;
  query.distance_km_max = options.distance_max;
  query.per_male = options.per_male.value_or(query.per_male);
  query.turn_days = options.turn_days.value_or(query.turn_days);
  if (query.per_male < 1 || query.per_male > kPerMaleMax) {
    return Fail(absl::StatusCode::kInvalidArgument, "USAGE",
                fmt::format("--per-male wants a number from 1 to {}", kPerMaleMax));
  }
  return query;
}

absl::StatusOr<facts::PlanVeto> VetoOf(const replica::View& view, const VetoOptions& options) {
  facts::PlanVeto veto;
  if (!options.animal.empty()) {
    BP_ASSIGN_OR_RETURN(veto.animal, view.AnimalNamed(options.animal));
  }
  if (!options.with_animal.empty()) {
    BP_ASSIGN_OR_RETURN(veto.other_animal, view.AnimalNamed(options.with_animal));
  }
  if (!options.with_keeper.empty()) {
    BP_ASSIGN_OR_RETURN(veto.other_keeper, view.KeeperNamed(options.with_keeper));
  }
  if (!options.with_animal.empty() && !options.with_keeper.empty()) {
    return Fail(absl::StatusCode::kInvalidArgument, "USAGE",
                "say --with-animal or --with-keeper, not both");
  }
  if (veto == facts::PlanVeto{}) {
    return Fail(absl::StatusCode::kInvalidArgument, "USAGE",
                "say --animal <yours>, --with-animal or --with-keeper <other>");
  }
  return veto;
}

absl::Status State(const Desk& desk, const VetoOptions& options, facts::VetoStance stance) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToAct(desk));
  BP_ASSIGN_OR_RETURN(facts::PlanVeto veto, VetoOf(ViewOf(*replica), options));
  veto.stance = stance;
  BP_ASSIGN_OR_RETURN(const replica::Acted acted, replica::StateVeto(*replica, veto));
  const bool lifted = stance == facts::VetoStance::kLifted;
  const std::string whose = options.animal.empty() ? "All your animals" : options.animal;
  const std::string other = options.with_animal.empty() ? options.with_keeper : options.with_animal;
  const v1::Ref subject =
      veto.animal.empty() ? RefOf(ViewOf(*replica).self(), "") : RefOf(veto.animal, options.animal);
  return ReportAct(desk, *replica, acted,
                   {.message = fmt::format(
                        "{} {} {} plans{}.", whose, options.animal.empty() ? "are" : "is",
                        lifted ? "back in" : "kept out of", other.empty() ? "" : " with " + other),
                    .subject = subject});
}

}  // namespace

absl::StatusOr<std::optional<double>> InbreedingOf(const std::string& text) {
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

absl::Status RunPlan(const Desk& desk, const PlanOptions& options) {
  BP_ASSIGN_OR_RETURN(replica::PlanQuery query, QueryOf(desk, options));
  BP_ASSIGN_OR_RETURN(const auto expectations, OwnExpectations(desk));
  if (expectations) query.expectations = &*expectations;
  BP_ASSIGN_OR_RETURN(const auto replica, options.offer ? OpenToAct(desk) : OpenToRead(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(query.group, view.GroupNamed(options.group));
  BP_ASSIGN_OR_RETURN(const v1::Plan plan, view.Plan(query));
  if (options.offer) return Offer(desk, *replica, plan, options);
  BP_RETURN_IF_ERROR(Present(desk, plan));
  if (plan.pairs_size() > 0) return absl::OkStatus();
  return Fail(absl::StatusCode::kNotFound, "NO_PLAN",
              plan.remarks_size() > 0 ? plan.remarks(0) : "no pair can be planned");
}

absl::Status RunAddVeto(const Desk& desk, const VetoOptions& options) {
  return State(desk, options, facts::VetoStance::kStands);
}

absl::Status RunLiftVeto(const Desk& desk, const VetoOptions& options) {
  return State(desk, options, facts::VetoStance::kLifted);
}

absl::Status RunListVetoes(const Desk& desk, const ListVetoesOptions& /*options*/) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  BP_ASSIGN_OR_RETURN(const v1::VetoList list, ViewOf(*replica).Vetoes());
  return Present(desk, list);
}

void AddPlanCommands(Command& root) {
  root.Add("plan", "Plan which males go to which females", DescribePlan, RunPlan);
  Command& veto = root.AddGroup("veto", "Keep animals out of plans");
  veto.Add("add", "Keep animals of yours out of plans", DescribeAddVeto, RunAddVeto);
  veto.Add("lift", "Let animals of yours into plans again", DescribeLiftVeto, RunLiftVeto);
  veto.Add("list", "List the vetoes that stand", DescribeListVetoes, RunListVetoes);
}

}  // namespace broodpact::cli
