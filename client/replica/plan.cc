// A plan for a season: which males to which females of a group.

#include "client/match/plan.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <tuple>
#include <utility>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/match/assignment.h"
#include "client/registry/index.h"
#include "client/replica/internal/broods.h"
#include "client/replica/internal/bulk.h"
#include "client/replica/internal/lineage.h"
#include "client/replica/internal/lives.h"
#include "client/replica/internal/messages.h"
#include "client/replica/internal/outcomes.h"
#include "client/replica/internal/readiness.h"
#include "client/replica/internal/vetoes.h"
#include "client/replica/view.h"

namespace broodpact::replica {
namespace {

// Animals of a group that a plan looks at.
constexpr std::size_t kGroupAnimalsMax = 100'000;

// An animal that is in no pair, and why.
struct Rest {
  AnimalId animal{};
  std::string reason{};
};

// How long a male has been mature on that day. A plan has those alone of whom that is known.
double DaysMatureOf(const registry::Animal& male, Day day) {
  return male.maturity ? std::max(0, day.number - MiddleOf(*male.maturity).number) : 0;
}

// OutlookAt always says how long.
double DaysLeftOf(const survival::Outlook& outlook) {
  return outlook.left.days.value_or(0);
}

// All that a plan is made of, read from the registry.
class SeasonReader {
 public:
  // What is passed outlives the reader.
  SeasonReader(const registry::Source& source, RefBook& refs, const KeeperId& self,
               const PlanQuery& query)
      : source_(source),
        refs_(refs),
        query_(query),
        today_(query.today.value_or(query.day)),
        setting_(source, refs, self, query.day) {}

  absl::Status Read() {
    BP_ASSIGN_OR_RETURN(const auto group, registry::Read<registry::Group>(source_, query_.group));
    if (!group) return Fail(absl::StatusCode::kNotFound, "UNKNOWN_SUBJECT", "no such group here");
    group_ = *group;
    BP_RETURN_IF_ERROR(ReadLiving());
    BP_RETURN_IF_ERROR(setting_.Prepare(living_));
    BP_ASSIGN_OR_RETURN(vetoes_, Vetoes::Of(source_));
    BP_ASSIGN_OR_RETURN(lives_, MaleLives(source_, group_.id, today_, Table()));
    BP_ASSIGN_OR_RETURN(sac_chance_, SacChanceOf(source_, group_, today_, Table()));
    BP_ASSIGN_OR_RETURN(broods_, Broods::Of(source_, living_));
    for (const registry::Animal& animal : living_) Sort(animal);
    if (males_.size() > match::kMarketMax || females_.size() > match::kMarketMax) {
      return Fail(absl::StatusCode::kResourceExhausted, "PLAN_TOO_LARGE",
                  fmt::format("{} males and {} females are more than a plan takes, {} of each; "
                              "keep some out with vetoes",
                              males_.size(), females_.size(), match::kMarketMax));
    }
    return absl::OkStatus();
  }

  absl::StatusOr<match::PlanAnswer> Plan() {
    BP_ASSIGN_OR_RETURN(const Lineage lineage, Lineage::Of(source_, living_));
    match::Season season{.pedigree = lineage.pedigree(),
                         .bounds = {.inbreeding_max = query_.offspring_inbreeding_max,
                                    .distance_km_max = query_.distance_km_max}};
    for (const registry::Animal& animal : living_) {
      season.living.push_back(lineage.NodeOf(animal.id));
    }
    for (match::PlanMale male : males_) {
      male.node = lineage.NodeOf(male.animal);
      season.males.push_back(male);
    }
    for (match::PlanFemale female : females_) {
      female.node = lineage.NodeOf(female.animal);
      season.females.push_back(female);
    }
    season.journey = [&](const match::PlanMale& male, const match::PlanFemale& female) {
      return JourneyOf(male, female);
    };
    parents_unknown_ = static_cast<std::size_t>(std::ranges::count_if(
        living_,
        [&](const registry::Animal& animal) { return !lineage.parents_known(animal.id); }));
    assumptions_ = TellAssumptions(lineage, refs_);
    return match::PlanSeason(season);
  }

  const registry::Animal& AnimalOf(const AnimalId& id) const { return *by_id_.at(id); }
  const registry::Group& group() const { return group_; }
  Setting& setting() { return setting_; }
  const std::vector<Rest>& rest() const { return rest_; }
  const std::vector<match::PlanMale>& males() const { return males_; }
  const std::vector<match::PlanFemale>& females() const { return females_; }

  std::optional<survival::Outlook> OutlookOf(const registry::Animal& male) const {
    return survival::OutlookAt(lives_, DaysMatureOf(male, query_.day));
  }
  std::string BasisOf(const survival::Outlook& outlook) const {
    return survival::BasisOf(lives_, outlook);
  }

  // What the numbers rest on.
  std::vector<std::string> Remarks() const {
    std::vector<std::string> remarks;
    remarks.push_back(sac_chance_
                          ? "chance of a viable sac: " + sac_chance_->basis
                          : std::string("chance of a viable sac: nothing is known; every pair "
                                        "counts as one sac"));
    if (males_of_unknown_time_ > 0) {
      remarks.push_back(fmt::format(
          "{} males count as living to the pairing: no data on their lives, and no prior",
          males_of_unknown_time_));
    }
    if (parents_unknown_ > 0) {
      remarks.push_back(fmt::format(
          "{} of {} living animals have a parent that is not known, taken as unrelated: kinship "
          "may be higher, and gene diversity lower",
          parents_unknown_, living_.size()));
    }
    remarks.insert(remarks.end(), assumptions_.begin(), assumptions_.end());
    if (females_of_unknown_age_ > 0) {
      remarks.push_back(fmt::format(
          "{} females count as mature though nobody said so: `broodpact animal mature` records it, "
          "`broodpact veto add` keeps one out",
          females_of_unknown_age_));
    }
    return remarks;
  }

 private:
  const survival::Expectations& Table() const {
    return query_.expectations != nullptr ? *query_.expectations
                                          : survival::Expectations::Shipped();
  }

  absl::Status ReadLiving() {
    BP_ASSIGN_OR_RETURN(
        const std::vector<AnimalId> ids,
        IdsBehind<AnimalId>(source_, registry::AnimalsOfGroup(group_.id), kGroupAnimalsMax));
    BP_ASSIGN_OR_RETURN(living_, ReadMany<registry::Animal>(source_, ids));
    std::erase_if(living_, [](const registry::Animal& animal) { return animal.death.has_value(); });
    for (const registry::Animal& animal : living_) by_id_.emplace(animal.id, &animal);
    return absl::OkStatus();
  }

  void LeaveOut(const registry::Animal& animal, std::string reason) {
    rest_.push_back({.animal = animal.id, .reason = std::move(reason)});
  }

  // Puts an animal where it belongs, or says why it is in no pair.
  void Sort(const registry::Animal& animal) {
    if (animal.sex == facts::Sex::kUnknown) return;
    if (animal.maturity && animal.maturity->earliest > query_.day) {
      return LeaveOut(animal, fmt::format("matures on {}", ToText(*animal.maturity)));
    }
    const bool is_male = animal.sex == facts::Sex::kMale;
    if (is_male && !animal.maturity) return;
    if (vetoes_.KeptOut(animal)) return LeaveOut(animal, "kept out of plans by its keeper");
    if (setting_.HasLeft(animal.holder)) {
      return LeaveOut(animal, fmt::format("{}, who has it, has left the cooperative",
                                          refs_.Name(animal.holder)));
    }
    const Readiness ready = setting_.ReadinessFor(animal.holder, animal);
    if (!animal.receiver.empty()) return LeaveOut(animal, ready.text);
    is_male ? SortMale(animal) : SortFemale(animal);
  }

  void SortMale(const registry::Animal& male) {
    const double age = DaysMatureOf(male, today_);
    // From today to the pairing, and through it.
    const double days =
        std::max(0, query_.day.number - today_.number) + static_cast<double>(query_.turn_days);
    const std::optional<double> lasting = survival::ChanceOfLasting(lives_, age, days);
    if (!lasting) ++males_of_unknown_time_;
    if (lasting == 0.0) return LeaveOut(male, "no time is expected to be left to him");
    std::uint32_t capacity = std::clamp<std::uint32_t>(query_.per_male, 1, match::kCapacityMax);
    if (const auto outlook = OutlookOf(male)) {
      const double turns = DaysLeftOf(*outlook) / std::max<std::uint32_t>(query_.turn_days, 1);
      capacity = std::min(capacity, static_cast<std::uint32_t>(std::clamp(turns, 1.0, 16.0)));
    }
    males_.push_back({.animal = male.id,
                      .holder = male.holder,
                      .capacity = capacity,
                      .lasting = lasting.value_or(1)});
  }

  void SortFemale(const registry::Animal& female) {
    if (auto why = broods_.WhyOccupied(female)) return LeaveOut(female, *std::move(why));
    if (!IsKnownMature(female)) ++females_of_unknown_age_;
    females_.push_back({.animal = female.id,
                        .holder = female.holder,
                        .sac_chance = sac_chance_ ? sac_chance_->share : 1});
  }

  match::Journey JourneyOf(const match::PlanMale& male, const match::PlanFemale& female) const {
    const registry::Animal& he = *by_id_.at(male.animal);
    const registry::Animal& she = *by_id_.at(female.animal);
    if (vetoes_.Between(he, she)) return {.vetoed = true};
    // Promised past the day, he is for the borrower's females alone.
    const registry::Loan* loan = setting_.LoanOf(he);
    const bool is_away = loan != nullptr && !(loan->return_day && *loan->return_day <= query_.day);
    if (is_away && loan->borrower != she.holder) return {.vetoed = true};
    return {.km = setting_.ApartOf(he.holder, she.holder).km};
  }

  const registry::Source& source_;
  RefBook& refs_;
  const PlanQuery& query_;
  Day today_;
  Setting setting_;
  registry::Group group_;
  std::vector<registry::Animal> living_;
  std::map<AnimalId, const registry::Animal*> by_id_;
  Vetoes vetoes_;
  survival::Evidence lives_;
  std::optional<SacChance> sac_chance_;
  Broods broods_;
  std::vector<match::PlanMale> males_;
  std::vector<match::PlanFemale> females_;
  std::vector<Rest> rest_;
  std::size_t males_of_unknown_time_ = 0;
  std::size_t females_of_unknown_age_ = 0;
  std::size_t parents_unknown_ = 0;
  std::vector<std::string> assumptions_;  // about founders, a sentence each
};

std::string Percent(double share) {
  return fmt::format("{:.0f} %", 100 * share);
}

v1::PlanFigures FiguresOf(const match::Planned& planned, std::string name) {
  v1::PlanFigures figures;
  figures.set_name(std::move(name));
  figures.set_pairs(static_cast<std::uint32_t>(planned.pairs.size()));
  figures.set_expected_sacs(planned.sacs);
  figures.set_gene_diversity(planned.gene_diversity.value_or(-1));
  figures.set_offspring_inbreeding(planned.inbreeding.value_or(-1));
  figures.set_worth(planned.worth);
  figures.set_journeys(planned.journeys);
  figures.set_distance_km(static_cast<std::uint32_t>(planned.km));
  return figures;
}

v1::PlanPair PairOf(const match::PlannedPair& pair, SeasonReader& reader, Messages& writer) {
  const registry::Animal& male = reader.AnimalOf(pair.male);
  const registry::Animal& female = reader.AnimalOf(pair.female);
  const Apart apart = reader.setting().ApartOf(male.holder, female.holder);
  v1::PlanPair message;
  *message.mutable_male() = writer.refs().Ref(male.id);
  *message.mutable_female() = writer.refs().Ref(female.id);
  *message.mutable_male_owner() = writer.refs().Ref(male.owner);
  *message.mutable_female_holder() = writer.refs().Ref(female.holder);
  message.set_expected_sacs(pair.sacs);
  message.set_offspring_inbreeding(pair.inbreeding);
  message.set_gene_diversity(pair.gene_diversity);
  message.set_distance(pair.travels ? std::string(DistanceWord(apart.nearness)) : "own");
  message.set_distance_km(pair.km ? static_cast<std::int32_t>(*pair.km) : -1);
  if (pair.travels && apart.nearness == match::Nearness::kAbroad) {
    message.set_caution(kBorderCaution);
  }
  const auto outlook = reader.OutlookOf(male);
  message.set_left_days(outlook ? static_cast<std::int32_t>(std::lround(DaysLeftOf(*outlook)))
                                : -1);
  if (outlook) {
    message.add_reasons(fmt::format("{} is expected to live {:.0f} days more ({})", male.name,
                                    DaysLeftOf(*outlook), reader.BasisOf(*outlook)));
  }
  message.add_reasons(fmt::format("a viable sac is expected with {}", Percent(pair.sacs)));
  message.add_reasons(
      fmt::format("inbreeding of the offspring {:.4f}; gene diversity {:.4f} among the living and "
                  "its sibs",
                  pair.inbreeding, pair.gene_diversity));
  return message;
}

// Why there is no pair at all, said plainly.
std::string NoPlan(const SeasonReader& reader, const match::Obstacles& obstacles,
                   const PlanQuery& query) {
  if (reader.males().empty() && reader.females().empty()) {
    return "no plan: the group has no mature male and no female that could be paired";
  }
  if (reader.males().empty()) return "no plan: the group has no mature male that could go";
  if (reader.females().empty()) return "no plan: the group has no female that could be paired";
  std::string why = fmt::format("no plan: of {} pairs none is left", obstacles.pairs);
  if (obstacles.vetoed > 0) {
    why += fmt::format("; vetoed or promised elsewhere {}", obstacles.vetoed);
  }
  if (obstacles.inbred > 0) {
    why += fmt::format("; above the ceiling of inbreeding ({}) {}",
                       query.offspring_inbreeding_max.value_or(1), obstacles.inbred);
    if (obstacles.inbreeding_min) {
      why += fmt::format(", the lowest is {:.4f}", *obstacles.inbreeding_min);
    }
  }
  if (obstacles.far > 0) why += fmt::format("; too far {}", obstacles.far);
  if (obstacles.hopeless > 0) why += fmt::format("; without hope of a sac {}", obstacles.hopeless);
  return why;
}

std::vector<std::string> RulesOf(const PlanQuery& query) {
  std::vector<std::string> rules;
  rules.emplace_back(
      "made as large as it can be: sacs expected, each times the gene diversity of its offspring; "
      "exact to a millionth of a sac");
  rules.push_back(query.offspring_inbreeding_max
                      ? fmt::format("inbreeding of the offspring at most {:.4f}",
                                    *query.offspring_inbreeding_max)
                      : std::string("no ceiling of inbreeding"));
  rules.push_back(fmt::format(
      "a male goes to at most {} females, one in {} days of the life expected; a female gets one "
      "male",
      query.per_male, query.turn_days));
  rules.emplace_back(
      "of plans of equal worth the one with the shorter journeys, to ten kilometres; then always "
      "the same, with animals in order of id");
  return rules;
}

}  // namespace

absl::StatusOr<v1::Plan> View::Plan(const PlanQuery& query) const {
  Messages writer(source_, provisional_);
  SeasonReader reader(source_, writer.refs(), self_, query);
  BP_RETURN_IF_ERROR(reader.Read());
  BP_ASSIGN_OR_RETURN(const match::PlanAnswer answer, reader.Plan());

  v1::Plan plan;
  *plan.mutable_group() = writer.refs().Ref(query.group);
  plan.set_day(ToText(query.day));
  std::map<AnimalId, bool> paired;
  for (const match::PlannedPair& pair : answer.plan.pairs) {
    *plan.add_pairs() = PairOf(pair, reader, writer);
    paired[pair.male] = paired[pair.female] = true;
  }
  std::ranges::sort(*plan.mutable_pairs(), [](const v1::PlanPair& a, const v1::PlanPair& b) {
    return std::tuple(a.male().name(), a.male().id(), a.female().name(), a.female().id()) <
           std::tuple(b.male().name(), b.male().id(), b.female().name(), b.female().id());
  });
  *plan.add_figures() = FiguresOf(answer.plan, "plan");
  *plan.add_figures() = FiguresOf(answer.no_exchange, "no exchange");
  *plan.add_figures() = FiguresOf(answer.nearest, "nearest male");
  const auto add_rest = [&](const AnimalId& animal, const std::string& reason) {
    v1::PlanRest& rest = *plan.add_rest();
    *rest.mutable_animal() = writer.refs().Ref(animal);
    rest.set_reason(reason);
  };
  for (const Rest& rest : reader.rest()) add_rest(rest.animal, rest.reason);
  for (const match::PlanMale& male : reader.males()) {
    if (!paired.contains(male.animal)) add_rest(male.animal, "no female is left for him");
  }
  for (const match::PlanFemale& female : reader.females()) {
    if (!paired.contains(female.animal)) add_rest(female.animal, "no male is left for her");
  }
  for (std::string& rule : RulesOf(query)) plan.add_rules(std::move(rule));
  if (answer.plan.pairs.empty()) plan.add_remarks(NoPlan(reader, answer.obstacles, query));
  for (std::string& remark : reader.Remarks()) plan.add_remarks(std::move(remark));
  BP_RETURN_IF_ERROR(writer.status());
  return plan;
}

}  // namespace broodpact::replica
