// Searches: a male for a female, a female for a male, and how two animals are kin.

#include <algorithm>
#include <cmath>
#include <map>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/match/candidates.h"
#include "client/registry/index.h"
#include "client/replica/internal/bulk.h"
#include "client/replica/internal/lineage.h"
#include "client/replica/internal/lives.h"
#include "client/replica/internal/messages.h"
#include "client/replica/view.h"
#include "client/survival/time_left.h"

namespace broodpact::replica {
namespace {

// Animals of one group that one search looks at.
constexpr std::size_t kCandidatesMax = 10'000;
constexpr double kNotAsked = -1;

constexpr char kBorderCaution[] =
    "crossing a border: listed species may need papers; ask your authority";

struct Readiness {
  match::Availability availability = match::Availability::kFree;
  std::string text = "free";
};

// What a search knows of its surroundings, read once.
class Setting {
 public:
  Setting(const registry::Source& source, const registry::Layer* provisional, KeeperId self,
          Day day)
      : source_(source), self_(self), day_(day), writer_(source, provisional) {}

  // Reads the keepers and loans of all candidates in two reads.
  absl::Status Prepare(const std::vector<registry::Animal>& animals) {
    std::vector<KeeperId> keepers{self_};
    std::vector<LoanId> loans;
    for (const registry::Animal& animal : animals) {
      keepers.push_back(animal.holder);
      if (!animal.loan.empty()) loans.push_back(animal.loan);
    }
    std::ranges::sort(keepers);
    keepers.erase(std::unique(keepers.begin(), keepers.end()), keepers.end());
    BP_ASSIGN_OR_RETURN(const auto read, ReadMany<registry::Keeper>(source_, keepers));
    for (const registry::Keeper& keeper : read) regions_[keeper.id] = keeper.region;
    BP_ASSIGN_OR_RETURN(auto known, ReadMany<registry::Loan>(source_, loans));
    for (registry::Loan& loan : known) loans_.emplace(loan.id, std::move(loan));
    return absl::OkStatus();
  }

  match::Nearness NearnessOf(const registry::Animal& animal) const {
    if (animal.holder == self_) return match::Nearness::kOwn;
    const std::string theirs = RegionOf(animal.holder);
    const std::string ours = RegionOf(self_);
    if (theirs.empty() || ours.empty()) return match::Nearness::kNotSaid;
    return theirs == ours ? match::Nearness::kSameRegion : match::Nearness::kAbroad;
  }

  Readiness ReadinessOf(const registry::Animal& animal) {
    using match::Availability;
    const std::string_view whose = animal.sex == facts::Sex::kMale ? "his" : "her";
    const std::string way =
        animal.receiver.empty()
            ? ""
            : fmt::format("on {} way to {}", whose, writer_.refs().Name(animal.receiver));
    const auto loan = loans_.find(animal.loan);
    if (loan == loans_.end()) {
      if (way.empty()) return {};
      const bool to_self = animal.receiver == self_;
      return {to_self ? Availability::kFree : Availability::kPromised, way};
    }
    const std::optional<Day>& back = loan->second.return_day;
    const std::string until =
        back ? fmt::format("until {}", ToText(*back)) : "with no day of return agreed";
    if (loan->second.borrower == self_ && !self_.empty()) {
      return {Availability::kFree, "on loan to you " + until};
    }
    const std::string text = fmt::format("promised {}", until);
    return {back && *back <= day_ ? Availability::kPromisedBefore : Availability::kPromised,
            way.empty() ? text : fmt::format("{}, {}", way, text)};
  }

  Messages& writer() { return writer_; }

 private:
  std::string RegionOf(const KeeperId& keeper) const {
    const auto region = regions_.find(keeper);
    return region == regions_.end() ? "" : region->second;
  }

  const registry::Source& source_;
  KeeperId self_;
  Day day_;
  Messages writer_;
  std::map<KeeperId, std::string> regions_;
  std::map<LoanId, registry::Loan> loans_;
};

std::string_view DistanceWord(match::Nearness nearness) {
  switch (nearness) {
    case match::Nearness::kOwn:
    case match::Nearness::kSameRegion:
      return "same region";
    case match::Nearness::kAbroad:
      return "abroad";
    case match::Nearness::kNotSaid:
      return "not said";
  }
  return "not said";
}

absl::Status QueryForm(const std::string& message) {
  return Fail(absl::StatusCode::kInvalidArgument, "QUERY_FORM", message);
}

// The animal that a mate is looked for, of the sex that it must have.
absl::StatusOr<std::optional<registry::Animal>> MateOf(const registry::Source& source,
                                                       const std::optional<AnimalId>& id,
                                                       facts::Sex sex) {
  if (!id) return std::optional<registry::Animal>();
  BP_ASSIGN_OR_RETURN(std::optional<registry::Animal> mate,
                      registry::Read<registry::Animal>(source, *id));
  if (!mate) {
    return Fail(absl::StatusCode::kNotFound, "UNKNOWN_SUBJECT",
                fmt::format("there is no animal {}", ToShortText(*id)));
  }
  if (mate->sex != sex) {
    const bool female = sex == facts::Sex::kFemale;
    return QueryForm(fmt::format("{} is not known to be {}; `broodpact animal sexed` records it",
                                 mate->name, female ? "a female" : "a male"));
  }
  return mate;
}

// The group to look in.
absl::StatusOr<GroupId> GroupOf(const std::optional<GroupId>& group,
                                const std::optional<registry::Animal>& mate) {
  if (group) return *group;
  if (mate) return mate->group;
  return QueryForm("a search needs a group, or an animal to find a mate for");
}

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

absl::StatusOr<v1::MaleMatchList> WriteMales(const std::vector<match::Candidate>& ranked,
                                             const std::vector<registry::Animal>& males,
                                             Setting& setting) {
  const auto by_id = ById(males);
  FetchRows(ranked, by_id, setting.writer());
  v1::MaleMatchList list;
  list.set_order(match::kMaleOrder);
  for (const match::Candidate& one : ranked) {
    const registry::Animal& male = *by_id.at(one.animal);
    v1::MaleMatch& message = *list.add_matches();
    *message.mutable_animal() = setting.writer().Of(male, Detail::kRow);
    message.set_mature_days(one.mature_days.value_or(-1));
    message.set_left_days(one.left_days ? static_cast<std::int32_t>(std::lround(*one.left_days))
                                        : -1);
    message.set_availability(setting.ReadinessOf(male).text);
    message.set_offspring_inbreeding(one.offspring_inbreeding.value_or(kNotAsked));
    message.set_distance(std::string(DistanceWord(one.nearness)));
    message.set_pairings(one.pairings);
    if (one.nearness == match::Nearness::kAbroad) message.set_caution(kBorderCaution);
  }
  BP_RETURN_IF_ERROR(setting.writer().status());
  return list;
}

absl::StatusOr<v1::FemaleMatchList> WriteFemales(const std::vector<match::FemaleCandidate>& ranked,
                                                 const std::vector<registry::Animal>& females,
                                                 Setting& setting) {
  const auto by_id = ById(females);
  FetchRows(ranked, by_id, setting.writer());
  v1::FemaleMatchList list;
  list.set_order(match::kFemaleOrder);
  for (const match::FemaleCandidate& one : ranked) {
    const registry::Animal& female = *by_id.at(one.animal);
    v1::FemaleMatch& message = *list.add_matches();
    *message.mutable_animal() = setting.writer().Of(female, Detail::kRow);
    message.set_moult_days(one.moult_days.value_or(-1));
    message.set_availability(setting.ReadinessOf(female).text);
    message.set_offspring_inbreeding(one.offspring_inbreeding.value_or(kNotAsked));
    message.set_distance(std::string(DistanceWord(one.nearness)));
    if (one.nearness == match::Nearness::kAbroad) message.set_caution(kBorderCaution);
  }
  BP_RETURN_IF_ERROR(setting.writer().status());
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
    bound = true;
    remarks.push_back(fmt::format("clutch {} may have several sires: its sire is taken as unknown",
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

absl::StatusOr<v1::MaleMatchList> View::FindMales(const MaleQuery& query) const {
  BP_ASSIGN_OR_RETURN(const auto female, MateOf(source_, query.female, facts::Sex::kFemale));
  BP_ASSIGN_OR_RETURN(const GroupId group, GroupOf(query.group, female));
  BP_ASSIGN_OR_RETURN(
      const std::vector<AnimalId> ids,
      IdsBehind<AnimalId>(source_, registry::MatureMalesOfGroup(group), kCandidatesMax));
  BP_ASSIGN_OR_RETURN(auto males, ReadMany<registry::Animal>(source_, ids));
  std::erase_if(males, [&](const registry::Animal& male) {
    return !male.maturity || male.maturity->earliest > query.day;
  });
  Setting setting(source_, provisional_, self_, query.day);
  BP_RETURN_IF_ERROR(setting.Prepare(males));
  BP_ASSIGN_OR_RETURN(const std::vector<double> inbreeding,
                      OffspringInbreeding(source_, female, males));
  survival::Curve curve;
  if (!males.empty()) {
    BP_ASSIGN_OR_RETURN(curve, MaleLifeCurve(source_, group, query.today.value_or(query.day)));
  }

  std::vector<match::Candidate> candidates;
  candidates.reserve(males.size());
  for (std::size_t i = 0; i < males.size(); ++i) {
    const registry::Animal& male = males[i];
    const std::int32_t mature_days =
        std::max(0, query.day.number - MiddleOf(*male.maturity).number);
    candidates.push_back({.animal = male.id,
                          .availability = setting.ReadinessOf(male).availability,
                          .nearness = setting.NearnessOf(male),
                          .mature_days = mature_days,
                          .left_days = survival::MedianLeft(curve, mature_days),
                          .pairings = static_cast<std::uint32_t>(male.pairings.size())});
    if (female) candidates.back().offspring_inbreeding = inbreeding[i];
  }
  match::Bounds bounds{.offspring_inbreeding_max = query.offspring_inbreeding_max};
  if (query.left_days_min) bounds.left_days_min = *query.left_days_min;
  std::vector<match::Candidate> ranked = match::RankMales(std::move(candidates), bounds);
  if (ranked.size() > query.count_max) ranked.resize(query.count_max);
  return WriteMales(ranked, males, setting);
}

absl::StatusOr<v1::FemaleMatchList> View::FindFemales(const FemaleQuery& query) const {
  BP_ASSIGN_OR_RETURN(const auto male, MateOf(source_, query.male, facts::Sex::kMale));
  BP_ASSIGN_OR_RETURN(const GroupId group, GroupOf(query.group, male));
  BP_ASSIGN_OR_RETURN(
      const std::vector<AnimalId> ids,
      IdsBehind<AnimalId>(source_, registry::FemalesOfGroup(group), kCandidatesMax));
  BP_ASSIGN_OR_RETURN(const auto females, ReadMany<registry::Animal>(source_, ids));
  Setting setting(source_, provisional_, self_, query.day);
  BP_RETURN_IF_ERROR(setting.Prepare(females));
  BP_ASSIGN_OR_RETURN(const std::vector<double> inbreeding,
                      OffspringInbreeding(source_, male, females));
  std::vector<match::FemaleCandidate> candidates;
  candidates.reserve(females.size());
  for (std::size_t i = 0; i < females.size(); ++i) {
    const registry::Animal& female = females[i];
    candidates.push_back({.animal = female.id,
                          .availability = setting.ReadinessOf(female).availability,
                          .nearness = setting.NearnessOf(female),
                          .moult_days = MoultDays(female, query.day)});
    if (male) candidates.back().offspring_inbreeding = inbreeding[i];
  }
  std::vector<match::FemaleCandidate> ranked = match::RankFemales(
      std::move(candidates), {.offspring_inbreeding_max = query.offspring_inbreeding_max});
  if (ranked.size() > query.count_max) ranked.resize(query.count_max);
  return WriteFemales(ranked, females, setting);
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
