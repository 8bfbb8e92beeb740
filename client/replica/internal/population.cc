#include "client/replica/internal/population.h"

#include <algorithm>
#include <map>

#include <fmt/format.h>

#include "client/base/check.h"
#include "client/base/status.h"
#include "client/registry/index.h"
#include "client/replica/internal/bulk.h"

namespace broodpact::replica {
namespace {

constexpr std::size_t kAnimalsMax = 1'000'000;  // all animals of the largest cooperative

void Earlier(std::optional<Day>& day, const DaySpan& span) {
  const Day middle = MiddleOf(span);
  if (!day || middle < *day) day = middle;
}

// Females are seldom stated to be mature: one that was paired or laid was.
absl::Status NoteMatureFemales(const registry::Source& source,
                               std::vector<PopulationMember>& members) {
  std::vector<PairingId> pairing_ids;
  std::vector<ClutchId> clutch_ids;
  std::map<AnimalId, PopulationMember*> females;
  for (PopulationMember& member : members) {
    const registry::Animal& animal = member.animal;
    if (animal.sex != facts::Sex::kFemale || animal.maturity) continue;
    females.emplace(animal.id, &member);
    pairing_ids.insert(pairing_ids.end(), animal.pairings.begin(), animal.pairings.end());
    clutch_ids.insert(clutch_ids.end(), animal.clutches.begin(), animal.clutches.end());
  }
  BP_ASSIGN_OR_RETURN(const auto pairings, ReadMany<registry::Pairing>(source, pairing_ids));
  for (const registry::Pairing& pairing : pairings) {
    const auto female = females.find(pairing.female);
    if (female != females.end()) Earlier(female->second->mature_since, pairing.day);
  }
  BP_ASSIGN_OR_RETURN(const auto clutches, ReadMany<registry::Clutch>(source, clutch_ids));
  for (const registry::Clutch& clutch : clutches) {
    const auto female = females.find(clutch.female);
    if (female != females.end()) Earlier(female->second->mature_since, clutch.laying);
  }
  return absl::OkStatus();
}

}  // namespace

absl::StatusOr<std::vector<PopulationMember>> PopulationOf(const registry::Source& source,
                                                           const GroupId& group) {
  BP_ASSIGN_OR_RETURN(std::vector<AnimalId> ids,
                      IdsBehind<AnimalId>(source, registry::AnimalsOfGroup(group), kAnimalsMax));
  std::ranges::sort(ids);
  BP_ASSIGN_OR_RETURN(auto animals, ReadMany<registry::Animal>(source, ids));
  std::vector<PopulationMember> members;
  members.reserve(animals.size());
  for (registry::Animal& animal : animals) {
    PopulationMember member;
    member.since = animal.hatching ? MiddleOf(*animal.hatching) : DayOfMillis(animal.entry.time_ms);
    if (animal.death) member.until = MiddleOf(*animal.death);
    if (animal.maturity) member.mature_since = MiddleOf(*animal.maturity);
    member.animal = std::move(animal);
    members.push_back(std::move(member));
  }
  BP_RETURN_IF_ERROR(NoteMatureFemales(source, members));
  return members;
}

bool LivedAt(const PopulationMember& member, Day day) {
  return member.since <= day && (!member.until || *member.until > day);
}

Month MonthOf(Day day, std::int32_t months) {
  const std::string text = ToText(day);
  const auto digits = [&](std::size_t begin, std::size_t size) {
    return static_cast<std::int32_t>(std::stol(text.substr(begin, size)));
  };
  const std::int32_t count = digits(0, 4) * 12 + digits(5, 2) - 1 + months;
  Month month;
  month.text = fmt::format("{:04}-{:02}", count / 12, count % 12 + 1);
  const auto span = ParseDaySpan(month.text);
  BP_CHECK(span.ok());  // today is no day near the ends of what can be written
  month.first = span->earliest;
  month.last = span->latest;
  return month;
}

}  // namespace broodpact::replica
