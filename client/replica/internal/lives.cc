#include "client/replica/internal/lives.h"

#include <algorithm>
#include <string>
#include <vector>

#include "client/base/status.h"
#include "client/registry/index.h"
#include "client/replica/internal/bulk.h"

namespace broodpact::replica {
namespace {

// Adds the lives of a group's mature males, at most `males_max` living and as many dead: read off
// the index alone.
absl::Status AddLives(const registry::Source& source, const GroupId& group, Day today,
                      std::size_t males_max, std::vector<survival::Life>& lives) {
  for (const std::string& prefix :
       {registry::MatureMalesOfGroup(group), registry::EndedMalesOfGroup(group)}) {
    BP_ASSIGN_OR_RETURN(const std::vector<std::string> entries,
                        source.IndexEntries(prefix, males_max));
    for (const std::string& entry : entries) {
      const std::optional<registry::MaleLife> life = registry::MaleLifeOf(entry);
      if (!life) continue;
      const bool died = life->death && *life->death <= today;
      const Day end = died ? *life->death : today;
      lives.push_back(
          {.entry = static_cast<double>(std::max(0, life->entry.number - life->maturity.number)),
           .exit = static_cast<double>(end.number - life->maturity.number),
           .ending = died ? survival::Ending::kDied : survival::Ending::kStillAlive});
    }
  }
  return absl::OkStatus();
}

}  // namespace

absl::StatusOr<std::vector<GroupId>> OtherGroupsOfGenus(const registry::Source& source,
                                                        const registry::Group& group) {
  BP_ASSIGN_OR_RETURN(const std::vector<registry::StoredSubject> stored,
                      source.SubjectsOfKind(registry::Kind::kGroup, std::nullopt, kGenusGroupsMax));
  std::vector<registry::Group> groups;
  for (const registry::StoredSubject& one : stored) {
    BP_RETURN_IF_ERROR(DecodeOnto(groups, one.value));
  }
  std::vector<GroupId> others;
  for (const registry::Group& one : groups) {
    if (one.id == group.id) continue;
    if (survival::GenusOf(one.taxon) == survival::GenusOf(group.taxon)) others.push_back(one.id);
  }
  return others;
}

absl::StatusOr<survival::Evidence> MaleLives(const registry::Source& source, const GroupId& group,
                                             Day today,
                                             const survival::Expectations& expectations) {
  survival::Evidence evidence;
  std::vector<survival::Life> lives;
  BP_RETURN_IF_ERROR(AddLives(source, group, today, kGroupMalesMax, lives));
  evidence.group = survival::FitKaplanMeier(lives);
  BP_ASSIGN_OR_RETURN(const std::optional<registry::Group> own,
                      registry::Read<registry::Group>(source, group));
  if (!own) return evidence;
  evidence.prior = expectations.Of(survival::Expected::kMaleLife, own->taxon);
  if (survival::Suffices(evidence.group)) return evidence;

  BP_ASSIGN_OR_RETURN(const std::vector<GroupId> others, OtherGroupsOfGenus(source, *own));
  // Each group gives the same number of males, so that none stands for the genus alone.
  const std::size_t each = kGenusMalesMax / std::max<std::size_t>(others.size(), 1);
  for (const GroupId& other : others) {
    BP_RETURN_IF_ERROR(AddLives(source, other, today, std::max<std::size_t>(each, 1), lives));
  }
  evidence.genus = survival::FitKaplanMeier(lives);
  return evidence;
}

}  // namespace broodpact::replica
