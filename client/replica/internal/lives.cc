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
      lives.push_back(
          {.entry = 0,
           .exit = static_cast<double>(life->death.value_or(today).number - life->maturity.number),
           .ending = life->death ? survival::Ending::kDied : survival::Ending::kStillAlive});
    }
  }
  return absl::OkStatus();
}

bool Suffices(const survival::Curve& curve) {
  return curve.lives >= kLivesMin && curve.deaths >= kDeathsMin;
}

std::string GenusOf(const std::string& taxon) {
  return taxon.substr(0, taxon.find(' '));
}

}  // namespace

absl::StatusOr<survival::Curve> MaleLifeCurve(const registry::Source& source, const GroupId& group,
                                              Day today) {
  std::vector<survival::Life> lives;
  BP_RETURN_IF_ERROR(AddLives(source, group, today, kGroupMalesMax, lives));
  survival::Curve curve = survival::FitKaplanMeier(lives);
  if (Suffices(curve)) return curve;

  BP_ASSIGN_OR_RETURN(const std::optional<registry::Group> own,
                      registry::Read<registry::Group>(source, group));
  if (!own) return survival::Curve{};
  BP_ASSIGN_OR_RETURN(const std::vector<registry::StoredSubject> stored,
                      source.SubjectsOfKind(registry::Kind::kGroup, std::nullopt, kGenusGroupsMax));
  std::vector<registry::Group> groups;
  for (const registry::StoredSubject& one : stored) {
    BP_RETURN_IF_ERROR(DecodeOnto(groups, one.value));
  }
  std::erase_if(groups, [&](const registry::Group& one) {
    return one.id == group || GenusOf(one.taxon) != GenusOf(own->taxon);
  });
  // Each group gives the same number of males, so that none stands for the genus alone.
  const std::size_t each = kGenusMalesMax / std::max<std::size_t>(groups.size(), 1);
  for (const registry::Group& one : groups) {
    BP_RETURN_IF_ERROR(AddLives(source, one.id, today, std::max<std::size_t>(each, 1), lives));
  }
  curve = survival::FitKaplanMeier(lives);
  return Suffices(curve) ? curve : survival::Curve{};
}

}  // namespace broodpact::replica
