// Search: keepers who seek slings of a group.

#include <map>
#include <utility>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/match/homes.h"
#include "client/registry/index.h"
#include "client/replica/internal/messages.h"
#include "client/replica/internal/readiness.h"
#include "client/replica/internal/wants.h"
#include "client/replica/view.h"

namespace broodpact::replica {
namespace {

match::HomeCandidate CandidateOf(const registry::Want& want, const Apart& apart) {
  match::HomeCandidate candidate{
      .want = want.id, .nearness = apart.nearness, .distance_km = apart.km};
  if (want.entry.arrival > 0) candidate.arrival = want.entry.arrival;
  if (want.count > 0) candidate.slings = want.count;
  return candidate;
}

}  // namespace

absl::StatusOr<v1::HomeMatchList> View::FindHomes(const HomeQuery& query) const {
  BP_ASSIGN_OR_RETURN(std::vector<registry::Want> wants,
                      WantsBehind(source_, registry::WantsOfGroup(query.group), query.day));
  std::erase_if(wants, [&](const registry::Want& want) {
    return want.what != facts::WantKind::kSlings || want.keeper == self_;
  });
  RefBook refs(source_);
  Setting setting(source_, refs, self_, query.day);
  std::vector<KeeperId> keepers{self_};
  for (const registry::Want& want : wants) keepers.push_back(want.keeper);
  BP_RETURN_IF_ERROR(setting.PrepareKeepers(std::move(keepers)));
  std::map<WantId, const registry::Want*> by_id;
  std::vector<match::HomeCandidate> candidates;
  for (const registry::Want& want : wants) {
    by_id.emplace(want.id, &want);
    candidates.push_back(CandidateOf(want, setting.ApartOf(self_, want.keeper)));
  }
  auto ranked = match::RankHomes(std::move(candidates), query.bounds, query.ignored);
  if (ranked.size() > query.count_max) ranked.resize(query.count_max);
  v1::HomeMatchList list;
  list.set_order(match::OrderOf(query.ignored));
  for (std::size_t i = 0; i < ranked.size(); ++i) {
    const match::HomeCandidate& one = ranked[i];
    v1::HomeMatch& message = *list.add_matches();
    *message.mutable_want() = WantMessage(*by_id.at(one.want), refs, provisional_);
    message.set_distance(std::string(DistanceWord(one.nearness)));
    message.set_distance_km(one.distance_km ? static_cast<std::int32_t>(*one.distance_km) : -1);
    if (one.nearness == match::Nearness::kAbroad) message.set_caution(kBorderCaution);
    if (query.reasons == Reasons::kLeftOut) continue;
    if (i == 0) {
      message.add_reasons("first: no other comes before by the order");
      continue;
    }
    const auto decisive = match::DecisiveOf(ranked[i - 1], one, query.ignored);
    message.add_reasons(fmt::format(
        "after {}: {}", refs.Name(by_id.at(ranked[i - 1].want)->keeper),
        decisive ? match::ToText(*decisive) : std::string_view("equal in all, in order of id")));
  }
  BP_RETURN_IF_ERROR(refs.status());
  return list;
}

}  // namespace broodpact::replica
