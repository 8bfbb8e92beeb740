// Searches: a female for a male, and how two animals are kin.

#include <algorithm>
#include <map>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/match/candidates.h"
#include "client/registry/index.h"
#include "client/replica/internal/bulk.h"
#include "client/replica/internal/lineage.h"
#include "client/replica/internal/mates.h"
#include "client/replica/internal/messages.h"
#include "client/replica/internal/readiness.h"
#include "client/replica/view.h"

namespace broodpact::replica {
namespace {

constexpr double kNotAsked = -1;

// Inbreeding of the offspring of `mate` with each candidate: their kinship. Empty without a mate.
absl::StatusOr<std::vector<double>> OffspringInbreeding(
    const registry::Source& source, const std::optional<registry::Animal>& mate,
    const std::vector<registry::Animal>& candidates) {
  std::vector<double> inbreeding;
  if (!mate) return inbreeding;
  std::vector<registry::Animal> animals = candidates;
  animals.push_back(*mate);
  BP_ASSIGN_OR_RETURN(const Lineage lineage, Lineage::Of(source, animals));
  const std::vector<double> kinship = lineage.pedigree().KinshipWithAll(lineage.NodeOf(mate->id));
  inbreeding.reserve(candidates.size());
  for (const registry::Animal& one : candidates) {
    inbreeding.push_back(kinship[lineage.NodeOf(one.id)]);
  }
  return inbreeding;
}

std::map<AnimalId, const registry::Animal*> ById(const std::vector<registry::Animal>& animals) {
  std::map<AnimalId, const registry::Animal*> by_id;
  for (const registry::Animal& animal : animals) by_id.emplace(animal.id, &animal);
  return by_id;
}

// The animals to show, with what their rows name, in one read.
template <typename Ranked>
void FetchRows(const std::vector<Ranked>& ranked,
               const std::map<AnimalId, const registry::Animal*>& by_id, Messages& writer) {
  std::vector<registry::Animal> shown;
  for (const Ranked& one : ranked) shown.push_back(*by_id.at(one.animal));
  writer.Fetch(shown);
}

absl::StatusOr<v1::FemaleMatchList> WriteFemales(const std::vector<match::FemaleCandidate>& ranked,
                                                 const std::vector<registry::Animal>& females,
                                                 Setting& setting, Messages& writer) {
  const auto by_id = ById(females);
  FetchRows(ranked, by_id, writer);
  v1::FemaleMatchList list;
  list.set_order(match::kFemaleOrder);
  for (const match::FemaleCandidate& one : ranked) {
    const registry::Animal& female = *by_id.at(one.animal);
    v1::FemaleMatch& message = *list.add_matches();
    *message.mutable_animal() = writer.Of(female, Detail::kRow);
    message.set_moult_days(one.moult_days.value_or(-1));
    message.set_availability(setting.ReadinessOf(female).text);
    message.set_offspring_inbreeding(one.offspring_inbreeding.value_or(kNotAsked));
    message.set_distance(std::string(DistanceWord(one.nearness)));
    message.set_distance_km(one.distance_km ? static_cast<std::int32_t>(*one.distance_km) : -1);
    if (one.nearness == match::Nearness::kAbroad) message.set_caution(kBorderCaution);
  }
  BP_RETURN_IF_ERROR(writer.status());
  return list;
}

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

// What the numbers of a kinship rest on.
std::vector<std::string> RemarksOf(const Lineage& lineage,
                                   const std::vector<registry::Animal>& animals, RefBook& refs) {
  std::vector<std::string> remarks;
  bool bound = false;
  for (const registry::Animal& animal : animals) {
    if (lineage.parents_known(animal.id)) continue;
    bound = true;
    remarks.push_back(
        fmt::format("a parent of {} is not known, and taken as unrelated", animal.name));
  }
  for (const ClutchId& clutch : lineage.clutches_unsure()) {
    remarks.push_back(fmt::format(
        "clutch {} may have several sires, each taken to be as likely: the numbers are means",
        refs.Name(clutch)));
  }
  if (lineage.cut_off()) {
    bound = true;
    remarks.push_back(fmt::format("only {} ancestors were looked at", kAncestorsMax));
  }
  if (bound) remarks.emplace_back("the true numbers may be higher");
  return remarks;
}

}  // namespace

absl::StatusOr<v1::FemaleMatchList> View::FindFemales(const FemaleQuery& query) const {
  BP_ASSIGN_OR_RETURN(const auto male, MateOf(source_, query.male, facts::Sex::kMale));
  BP_ASSIGN_OR_RETURN(const GroupId group, GroupOf(query.group, male));
  BP_ASSIGN_OR_RETURN(
      const std::vector<AnimalId> ids,
      IdsBehind<AnimalId>(source_, registry::FemalesOfGroup(group), kCandidatesMax));
  BP_ASSIGN_OR_RETURN(const auto females, ReadMany<registry::Animal>(source_, ids));
  Messages writer(source_, provisional_);
  Setting setting(source_, writer.refs(), self_, query.day);
  BP_RETURN_IF_ERROR(setting.Prepare(females));
  BP_ASSIGN_OR_RETURN(const std::vector<double> inbreeding,
                      OffspringInbreeding(source_, male, females));
  std::vector<match::FemaleCandidate> candidates;
  candidates.reserve(females.size());
  for (std::size_t i = 0; i < females.size(); ++i) {
    const registry::Animal& female = females[i];
    const Apart apart = setting.ApartOf(female);
    candidates.push_back({.animal = female.id,
                          .availability = setting.ReadinessOf(female).availability,
                          .nearness = apart.nearness,
                          .distance_km = apart.km,
                          .moult_days = MoultDays(female, query.day)});
    if (male) candidates.back().offspring_inbreeding = inbreeding[i];
  }
  std::vector<match::FemaleCandidate> ranked = match::RankFemales(
      std::move(candidates), {.offspring_inbreeding_max = query.offspring_inbreeding_max,
                              .distance_km_max = query.distance_km_max});
  if (ranked.size() > query.count_max) ranked.resize(query.count_max);
  return WriteFemales(ranked, females, setting, writer);
}

absl::StatusOr<v1::Kinship> View::Kinship(const AnimalId& first, const AnimalId& second) const {
  BP_ASSIGN_OR_RETURN(auto animals,
                      ReadMany<registry::Animal>(source_, std::vector<AnimalId>{first, second}));
  if (animals.size() != 2) {
    return Fail(absl::StatusCode::kNotFound, "UNKNOWN_SUBJECT",
                fmt::format("there is no animal {} or no animal {}", ToShortText(first),
                            ToShortText(second)));
  }
  BP_ASSIGN_OR_RETURN(const Lineage lineage, Lineage::Of(source_, animals));
  const kinship::Node one = lineage.NodeOf(first);
  const kinship::Node other = lineage.NodeOf(second);
  Messages writer(source_, provisional_);
  v1::Kinship message;
  *message.mutable_first() = writer.refs().Ref(first);
  *message.mutable_second() = writer.refs().Ref(second);
  message.set_kinship(lineage.pedigree().Kinship(one, other));
  message.set_first_inbreeding(lineage.pedigree().Inbreeding(one));
  message.set_second_inbreeding(lineage.pedigree().Inbreeding(other));
  if (first == second) animals.pop_back();
  for (std::string& remark : RemarksOf(lineage, animals, writer.refs())) {
    message.add_remarks(std::move(remark));
  }
  BP_RETURN_IF_ERROR(writer.status());
  return message;
}

}  // namespace broodpact::replica
