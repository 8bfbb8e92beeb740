// Search: a female for a male, or for a day.

#include <algorithm>
#include <map>
#include <utility>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/registry/index.h"
#include "client/replica/internal/broods.h"
#include "client/replica/internal/bulk.h"
#include "client/replica/internal/gains.h"
#include "client/replica/internal/lineage.h"
#include "client/replica/internal/mates.h"
#include "client/replica/internal/messages.h"
#include "client/replica/internal/readiness.h"
#include "client/replica/view.h"

namespace broodpact::replica {
namespace {

// Days since the last moult that was over by `day`.
std::optional<std::int32_t> MoultDays(const registry::Animal& female, Day day) {
  std::optional<std::int32_t> days;
  for (const registry::MoultRecord& moult : female.moults) {
    if (moult.day.earliest > day) continue;
    const std::int32_t since = std::max(0, day.number - MiddleOf(moult.day).number);
    days = std::min(days.value_or(since), since);
  }
  return days;
}

class FemaleSearch {
 public:
  FemaleSearch(const registry::Source& source, Messages& writer, const KeeperId& self,
               const FemaleQuery& query)
      : source_(source),
        writer_(writer),
        query_(query),
        setting_(source, writer.refs(), self, query.day) {}

  absl::Status Read() {
    BP_ASSIGN_OR_RETURN(male_, MateOf(source_, query_.male, facts::Sex::kMale));
    BP_ASSIGN_OR_RETURN(const GroupId group, GroupOf(query_.group, male_));
    BP_ASSIGN_OR_RETURN(
        const std::vector<AnimalId> ids,
        IdsBehind<AnimalId>(source_, registry::FemalesOfGroup(group), kCandidatesMax));
    BP_ASSIGN_OR_RETURN(females_, ReadMany<registry::Animal>(source_, ids));
    BP_RETURN_IF_ERROR(setting_.Prepare(females_));
    // Nobody is left to ask for those.
    std::erase_if(females_,
                  [&](const registry::Animal& female) { return setting_.HasLeft(female.holder); });
    for (const registry::Animal& female : females_) by_id_.emplace(female.id, &female);
    BP_ASSIGN_OR_RETURN(broods_, Broods::Of(source_, females_));
    return male_ ? ReadKin(*male_, group) : absl::OkStatus();
  }

  std::vector<match::FemaleCandidate> Ranked() {
    std::vector<match::FemaleCandidate> candidates;
    candidates.reserve(females_.size());
    for (const registry::Animal& female : females_) candidates.push_back(CandidateOf(female));
    auto ranked = match::RankFemales(std::move(candidates), query_.bounds, query_.ignored);
    if (ranked.size() > query_.count_max) ranked.resize(query_.count_max);
    return ranked;
  }

  absl::StatusOr<v1::FemaleMatchList> Write(const std::vector<match::FemaleCandidate>& ranked) {
    std::vector<registry::Animal> shown;
    shown.reserve(ranked.size());
    for (const match::FemaleCandidate& one : ranked) shown.push_back(*by_id_.at(one.animal));
    writer_.Fetch(shown);
    BP_ASSIGN_OR_RETURN(waiting_, WaitingFor(source_, shown));
    v1::FemaleMatchList list;
    list.set_order(match::OrderOf(query_.ignored));
    for (std::size_t i = 0; i < ranked.size(); ++i) {
      v1::FemaleMatch& message = *list.add_matches();
      WriteMatch(ranked[i], message);
      if (query_.reasons == Reasons::kGiven) {
        Explain(ranked[i], i == 0 ? nullptr : &ranked[i - 1], message);
      }
    }
    if (lineage_ && male_ && !ranked.empty()) {
      shown.push_back(*male_);
      for (std::string& remark : TellKin(*lineage_, shown, writer_.refs())) {
        list.add_remarks(std::move(remark));
      }
    }
    BP_RETURN_IF_ERROR(writer_.status());
    return list;
  }

 private:
  absl::Status ReadKin(const registry::Animal& male, const GroupId& group) {
    std::vector<registry::Animal> animals = females_;
    animals.push_back(male);
    BP_ASSIGN_OR_RETURN(const auto living, LivingForGains(source_, group));
    std::vector<AnimalId> ids;
    ids.reserve(living.size());
    for (const registry::Animal& one : living) ids.push_back(one.id);
    animals.insert(animals.end(), living.begin(), living.end());
    BP_ASSIGN_OR_RETURN(Lineage lineage, Lineage::Of(source_, animals));
    const auto kinship = lineage.pedigree().KinshipWithAll(lineage.NodeOf(male.id));
    for (const registry::Animal& female : females_) {
      inbreeding_[female.id] = kinship[lineage.NodeOf(female.id)];
    }
    gains_ = GainsOf(lineage, ids, male.id);
    lineage_.emplace(std::move(lineage));
    return absl::OkStatus();
  }

  match::Breeding BreedingOf(const registry::Animal& female) const {
    if (broods_.WhyOccupied(female)) return match::Breeding::kOccupied;
    const bool later = female.maturity && female.maturity->earliest > query_.day;
    return IsKnownMature(female) && !later ? match::Breeding::kReady
                                           : match::Breeding::kMaturityNotSaid;
  }

  std::string BreedingText(const registry::Animal& female) const {
    if (auto why = broods_.WhyOccupied(female)) return *std::move(why);
    if (BreedingOf(female) == match::Breeding::kReady) return "ready";
    return female.maturity ? "matures on " + ToText(*female.maturity) : "not known to be mature";
  }

  match::FemaleCandidate CandidateOf(const registry::Animal& female) {
    const Apart apart = setting_.ApartOf(female);
    match::FemaleCandidate candidate{.animal = female.id,
                                     .availability = setting_.ReadinessOf(female).availability,
                                     .breeding = BreedingOf(female),
                                     .nearness = apart.nearness,
                                     .distance_km = apart.km,
                                     .moult_days = MoultDays(female, query_.day)};
    if (male_) candidate.offspring_inbreeding = inbreeding_.at(female.id);
    const auto gain = gains_.find(female.id);
    if (gain != gains_.end()) candidate.diversity_gain = gain->second;
    return candidate;
  }

  void WriteMatch(const match::FemaleCandidate& one, v1::FemaleMatch& message) {
    const registry::Animal& female = *by_id_.at(one.animal);
    *message.mutable_animal() = writer_.Of(female, Detail::kRow);
    message.set_moult_days(one.moult_days.value_or(-1));
    message.set_availability(setting_.ReadinessOf(female).text);
    message.set_offspring_inbreeding(one.offspring_inbreeding.value_or(-1));
    message.set_distance(std::string(DistanceWord(one.nearness)));
    message.set_distance_km(one.distance_km ? static_cast<std::int32_t>(*one.distance_km) : -1);
    if (one.nearness == match::Nearness::kAbroad) message.set_caution(kBorderCaution);
    message.set_breeding(BreedingText(female));
    message.set_waiting(waiting_[one.animal]);
    message.set_diversity_gain(one.diversity_gain.value_or(0));
    message.set_pairings(static_cast<std::uint32_t>(female.pairings.size()));
    message.set_sacs(static_cast<std::uint32_t>(female.clutches.size()));
    message.set_sacs_hatched(broods_.HatchedOf(female.id));
  }

  // What decides between her and the one before her.
  void Explain(const match::FemaleCandidate& one, const match::FemaleCandidate* before,
               v1::FemaleMatch& message) const {
    if (before == nullptr) {
      message.add_reasons("first: no other comes before by the order");
    } else {
      const auto decisive = match::DecisiveOf(*before, one, query_.ignored);
      message.add_reasons(fmt::format(
          "after {}: {}", by_id_.at(before->animal)->name,
          decisive ? match::ToText(*decisive) : std::string_view("equal in all, in order of id")));
    }
    if (one.breeding != match::Breeding::kReady) message.add_reasons(message.breeding());
    if (male_ && !one.diversity_gain) message.add_reasons(NoGain());
  }

  const registry::Source& source_;
  Messages& writer_;
  const FemaleQuery& query_;
  Setting setting_;
  std::optional<registry::Animal> male_;
  std::vector<registry::Animal> females_;
  std::map<AnimalId, const registry::Animal*> by_id_;
  Broods broods_;
  std::optional<Lineage> lineage_;
  std::map<AnimalId, double> inbreeding_;  // of the offspring; empty: no male was named
  std::map<AnimalId, double> gains_;       // empty: no male, or too large a group
  std::map<AnimalId, std::uint32_t> waiting_;
};

}  // namespace

absl::StatusOr<v1::FemaleMatchList> View::FindFemales(const FemaleQuery& query) const {
  Messages writer(source_, provisional_);
  FemaleSearch search(source_, writer, self_, query);
  BP_RETURN_IF_ERROR(search.Read());
  return search.Write(search.Ranked());
}

}  // namespace broodpact::replica
