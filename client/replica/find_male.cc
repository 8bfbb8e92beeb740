// Search: a male for a female, or for a day.

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <utility>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/match/candidates.h"
#include "client/registry/index.h"
#include "client/replica/internal/bulk.h"
#include "client/replica/internal/gains.h"
#include "client/replica/internal/lineage.h"
#include "client/replica/internal/lives.h"
#include "client/replica/internal/mates.h"
#include "client/replica/internal/messages.h"
#include "client/replica/internal/readiness.h"
#include "client/replica/view.h"

namespace broodpact::replica {
namespace {

// A male that is not mature yet is shown from this chance on that he will be on the day.
constexpr double kMatureChanceMin = 0.5;

std::int32_t Rounded(const std::optional<double>& days) {
  return days ? static_cast<std::int32_t>(std::lround(*days)) : -1;
}

// One male as he was found.
struct Found {
  registry::Animal animal{};
  std::optional<double> mature_chance{};  // nothing: he is mature
  std::optional<survival::Outlook> outlook{};
  double offspring_inbreeding = 0;
};

class MaleSearch {
 public:
  MaleSearch(const registry::Source& source, Messages& writer, const KeeperId& self,
             const MaleQuery& query)
      : source_(source),
        writer_(writer),
        query_(query),
        today_(query.today.value_or(query.day)),
        setting_(source, writer.refs(), self, query.day) {}

  absl::Status Read() {
    BP_ASSIGN_OR_RETURN(female_, MateOf(source_, query_.female, facts::Sex::kFemale));
    BP_ASSIGN_OR_RETURN(group_, GroupOf(query_.group, female_));
    BP_RETURN_IF_ERROR(ReadMature());
    BP_RETURN_IF_ERROR(ReadMaturing());
    if (found_.empty()) return absl::OkStatus();
    BP_RETURN_IF_ERROR(setting_.Prepare(FoundAnimals()));
    // Nobody is left to ask for those.
    std::erase_if(found_, [&](const Found& one) { return setting_.HasLeft(one.animal.holder); });
    if (female_) BP_RETURN_IF_ERROR(ReadKin(*female_, FoundAnimals()));
    BP_ASSIGN_OR_RETURN(lives_, MaleLives(source_, group_, today_, Table()));
    for (Found& one : found_) one.outlook = OutlookOf(one);
    return absl::OkStatus();
  }

  std::vector<match::Candidate> Ranked() {
    std::vector<match::Candidate> candidates;
    candidates.reserve(found_.size());
    for (std::size_t i = 0; i < found_.size(); ++i) {
      candidates.push_back(CandidateOf(found_[i]));
      by_id_.emplace(found_[i].animal.id, i);
    }
    match::Bounds bounds{.offspring_inbreeding_max = query_.offspring_inbreeding_max,
                         .diversity_gain_min = query_.diversity_gain_min,
                         .mature_days_max = query_.mature_days_max,
                         .distance_km_max = query_.distance_km_max,
                         .pairings_max = query_.pairings_max,
                         .availability_max = query_.availability_max,
                         .borders = query_.borders};
    if (query_.left_days_min) bounds.left_days_min = *query_.left_days_min;
    auto ranked = match::RankMales(std::move(candidates), bounds, query_.ignored);
    if (ranked.size() > query_.count_max) ranked.resize(query_.count_max);
    return ranked;
  }

  absl::StatusOr<v1::MaleMatchList> Write(const std::vector<match::Candidate>& ranked) {
    BP_RETURN_IF_ERROR(ReadParticulars(ranked));
    v1::MaleMatchList list;
    list.set_order(match::OrderOf(query_.ignored));
    for (std::size_t i = 0; i < ranked.size(); ++i) {
      v1::MaleMatch& message = *list.add_matches();
      WriteMatch(ranked[i], message);
      if (query_.reasons == Reasons::kGiven) {
        Explain(ranked[i], i == 0 ? nullptr : &ranked[i - 1], message);
      }
    }
    if (lineage_ && female_ && !ranked.empty()) {
      std::vector<registry::Animal> shown{*female_};
      for (const match::Candidate& one : ranked) shown.push_back(FoundOf(one).animal);
      for (std::string& remark : TellKin(*lineage_, shown, writer_.refs())) {
        list.add_remarks(std::move(remark));
      }
    }
    BP_RETURN_IF_ERROR(writer_.status());
    return list;
  }

 private:
  const survival::Expectations& Table() const {
    return query_.expectations != nullptr ? *query_.expectations
                                          : survival::Expectations::Shipped();
  }

  std::vector<registry::Animal> FoundAnimals() const {
    std::vector<registry::Animal> animals;
    animals.reserve(found_.size());
    for (const Found& one : found_) animals.push_back(one.animal);
    return animals;
  }

  absl::Status ReadMature() {
    BP_ASSIGN_OR_RETURN(
        const std::vector<AnimalId> ids,
        IdsBehind<AnimalId>(source_, registry::MatureMalesOfGroup(group_), kCandidatesMax));
    BP_ASSIGN_OR_RETURN(auto males, ReadMany<registry::Animal>(source_, ids));
    for (registry::Animal& male : males) {
      NoteMaturing(male);
      if (!male.maturity || male.maturity->earliest > query_.day) continue;
      found_.push_back({.animal = std::move(male)});
    }
    return absl::OkStatus();
  }

  // How long he took from hatching to maturity.
  void NoteMaturing(const registry::Animal& male) {
    if (!male.hatching || !male.maturity) return;
    maturings_.push_back({.exit = static_cast<double>(MiddleOf(*male.maturity).number -
                                                      MiddleOf(*male.hatching).number),
                          .ending = survival::Ending::kDied});
  }

  // Males that are not mature, where the group's own data tell when they will be.
  absl::Status ReadMaturing() {
    if (query_.day <= today_) return absl::OkStatus();
    BP_ASSIGN_OR_RETURN(
        const std::vector<std::string> entries,
        source_.IndexEntries(registry::ImmatureMalesOfGroup(group_), kCandidatesMax));
    for (const std::string& entry : entries) {
      const std::optional<Day> hatching = registry::HatchingOf(entry);
      if (hatching && *hatching <= today_) {
        maturings_.push_back({.exit = static_cast<double>(today_.number - hatching->number)});
      }
    }
    const survival::Curve curve = survival::FitKaplanMeier(maturings_);
    if (!survival::Suffices(curve)) return absl::OkStatus();
    std::vector<AnimalId> ids;
    std::vector<double> chances;
    for (const std::string& entry : entries) {
      const std::optional<Day> hatching = registry::HatchingOf(entry);
      if (!hatching || *hatching > today_) continue;
      const auto lasting = survival::ChanceOfLasting(curve, today_.number - hatching->number,
                                                     query_.day.number - today_.number);
      if (!lasting || 1 - lasting->share < kMatureChanceMin) continue;
      ids.push_back(AnimalId{registry::IdOfEntry(entry)});
      chances.push_back(1 - lasting->share);
    }
    BP_ASSIGN_OR_RETURN(auto males, ReadMany<registry::Animal>(source_, ids));
    if (males.size() != ids.size()) return absl::OkStatus();
    for (std::size_t i = 0; i < males.size(); ++i) {
      found_.push_back({.animal = std::move(males[i]), .mature_chance = chances[i]});
    }
    return absl::OkStatus();
  }

  // How close each is to the female; and what offspring of both would add to the group.
  absl::Status ReadKin(const registry::Animal& female, std::vector<registry::Animal> animals) {
    animals.push_back(female);
    const std::size_t asked = animals.size();
    BP_ASSIGN_OR_RETURN(auto living, LivingForGains(source_, group_));
    std::vector<AnimalId> ids;
    for (registry::Animal& one : living) {
      ids.push_back(one.id);
      animals.push_back(std::move(one));
    }
    BP_ASSIGN_OR_RETURN(Lineage lineage, Lineage::Of(source_, animals));
    const std::vector<double> kinship =
        lineage.pedigree().KinshipWithAll(lineage.NodeOf(female.id));
    for (std::size_t i = 0; i + 1 < asked; ++i) {
      found_[i].offspring_inbreeding = kinship[lineage.NodeOf(found_[i].animal.id)];
    }
    gains_ = GainsOf(lineage, ids, female.id);
    lineage_.emplace(std::move(lineage));
    return absl::OkStatus();
  }

  // How long a mature male has been that on the day of the question.
  std::int32_t DaysMature(const registry::Animal& male) const {
    return male.maturity ? std::max(0, query_.day.number - MiddleOf(*male.maturity).number) : 0;
  }

  std::optional<survival::Outlook> OutlookOf(const Found& one) const {
    // One who is still to mature has his whole life before him then.
    const double age = one.mature_chance ? 0 : DaysMature(one.animal);
    return survival::OutlookAt(lives_, age);
  }

  match::Candidate CandidateOf(const Found& one) {
    const Apart apart = setting_.ApartOf(one.animal);
    match::Candidate candidate{.animal = one.animal.id,
                               .availability = setting_.ReadinessOf(one.animal).availability,
                               .nearness = apart.nearness,
                               .distance_km = apart.km,
                               .mature_chance = one.mature_chance,
                               .pairings = static_cast<std::uint32_t>(one.animal.pairings.size())};
    if (!one.mature_chance) {
      candidate.mature_days = DaysMature(one.animal);
    }
    if (one.outlook) candidate.left_days = one.outlook->left.days;
    if (female_) candidate.offspring_inbreeding = one.offspring_inbreeding;
    const auto gain = gains_.find(one.animal.id);
    if (gain != gains_.end()) candidate.diversity_gain = gain->second;
    return candidate;
  }

  const Found& FoundOf(const match::Candidate& candidate) const {
    return found_[by_id_.at(candidate.animal)];
  }

  // What only those who are shown need: names, who waits for them, what came of their pairings.
  absl::Status ReadParticulars(const std::vector<match::Candidate>& ranked) {
    std::vector<registry::Animal> shown;
    shown.reserve(ranked.size());
    for (const match::Candidate& one : ranked) shown.push_back(FoundOf(one).animal);
    writer_.Fetch(shown);
    BP_ASSIGN_OR_RETURN(waiting_, WaitingFor(source_, shown));
    BP_ASSIGN_OR_RETURN(successes_, SuccessesOf(source_, shown));
    return absl::OkStatus();
  }

  void WriteMatch(const match::Candidate& one, v1::MaleMatch& message) {
    const Found& found = FoundOf(one);
    *message.mutable_animal() = writer_.Of(found.animal, Detail::kRow);
    message.set_mature_days(one.mature_days.value_or(-1));
    message.set_mature_chance(one.mature_chance.value_or(-1));
    message.set_left_days(Rounded(one.left_days));
    message.set_left_days_lower(found.outlook ? Rounded(found.outlook->left.lower) : -1);
    message.set_left_days_upper(found.outlook ? Rounded(found.outlook->left.upper) : -1);
    if (found.outlook) message.set_left_basis(survival::BasisOf(lives_, *found.outlook));
    message.set_availability(setting_.ReadinessOf(found.animal).text);
    message.set_offspring_inbreeding(one.offspring_inbreeding.value_or(-1));
    message.set_distance(std::string(DistanceWord(one.nearness)));
    message.set_distance_km(one.distance_km ? static_cast<std::int32_t>(*one.distance_km) : -1);
    message.set_pairings(one.pairings);
    message.set_diversity_gain(one.diversity_gain.value_or(0));
    message.set_waiting(waiting_[one.animal]);
    message.set_sacs(successes_[one.animal].sacs);
    message.set_sacs_hatched(successes_[one.animal].hatched);
    if (one.nearness == match::Nearness::kAbroad) message.set_caution(kBorderCaution);
  }

  // What decides between him and the one before him, and what the numbers rest on.
  void Explain(const match::Candidate& one, const match::Candidate* before,
               v1::MaleMatch& message) const {
    if (before == nullptr) {
      message.add_reasons("first: no other comes before by the order");
    } else if (const auto decisive = match::DecisiveOf(*before, one, query_.ignored)) {
      message.add_reasons(
          fmt::format("after {}: {}", FoundOf(*before).animal.name, match::ToText(*decisive)));
    } else {
      message.add_reasons(
          fmt::format("after {}: equal in all, in order of id", FoundOf(*before).animal.name));
    }
    if (one.mature_chance) {
      message.add_reasons(
          fmt::format("not mature yet; mature on the day with {:.0f} %, from {} males of the group",
                      100 * *one.mature_chance, maturings_.size()));
    }
    const Found& found = FoundOf(one);
    if (!found.outlook) {
      message.add_reasons("time left: no data, and no prior");
    } else if (found.outlook->level == survival::Level::kPrior && lives_.prior) {
      message.add_reasons(fmt::format("time left: a prior of the trade's table, {} ({}: {})",
                                      survival::ToText(lives_.prior->trust), lives_.prior->taxon,
                                      lives_.prior->sources));
    } else {
      message.add_reasons("time left: from " + message.left_basis());
    }
    if (female_ && !one.diversity_gain) message.add_reasons(NoGain());
  }

  const registry::Source& source_;
  Messages& writer_;
  const MaleQuery& query_;
  Day today_;
  Setting setting_;
  std::optional<registry::Animal> female_;
  GroupId group_;
  std::vector<Found> found_;
  std::map<AnimalId, std::size_t> by_id_;
  std::vector<survival::Life> maturings_;  // from hatching to maturity
  survival::Evidence lives_;
  std::optional<Lineage> lineage_;
  std::map<AnimalId, double> gains_;  // empty: no female, or too large a group
  std::map<AnimalId, std::uint32_t> waiting_;
  std::map<AnimalId, Success> successes_;
};

}  // namespace

absl::StatusOr<v1::MaleMatchList> View::FindMales(const MaleQuery& query) const {
  Messages writer(source_, provisional_);
  MaleSearch search(source_, writer, self_, query);
  BP_RETURN_IF_ERROR(search.Read());
  return search.Write(search.Ranked());
}

}  // namespace broodpact::replica
