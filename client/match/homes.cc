#include "client/match/homes.h"

#include <array>
#include <utility>

#include "client/match/internal/ranking.h"

namespace broodpact::match {
namespace {

constexpr std::array<HomeCriterion, kHomeCriteria> kAllCriteria = {
    HomeCriterion::kDistance, HomeCriterion::kEntry, HomeCriterion::kSlings};

bool IsOut(const HomeCandidate& home, const HomeBounds& bounds) {
  return IsAbove(home.distance_km, bounds.distance_km_max) ||
         (bounds.slings_min && home.slings && *home.slings < *bounds.slings_min) ||
         IsAcrossBorder(home.nearness, bounds.borders);
}

int Compare(HomeCriterion criterion, const HomeCandidate& a, const HomeCandidate& b) {
  switch (criterion) {
    case HomeCriterion::kDistance:
      return ComparedByPlace({a.nearness, a.distance_km}, {b.nearness, b.distance_km});
    case HomeCriterion::kEntry:
      return Compared(UnknownLast(a.arrival), UnknownLast(b.arrival));
    case HomeCriterion::kSlings:
      // Who has not said takes as many as there are, or none: after all who have.
      return -Compared(a.slings.value_or(0), b.slings.value_or(0));
  }
  return 0;
}

}  // namespace

std::vector<HomeCandidate> RankHomes(std::vector<HomeCandidate> candidates,
                                     const HomeBounds& bounds,
                                     std::span<const HomeCriterion> ignored) {
  std::erase_if(candidates, [&](const HomeCandidate& home) { return IsOut(home, bounds); });
  SortBy(Without(kAllCriteria, ignored), Compare, &HomeCandidate::want, candidates);
  return candidates;
}

std::optional<HomeCriterion> DecisiveOf(const HomeCandidate& first, const HomeCandidate& second,
                                        std::span<const HomeCriterion> ignored) {
  return FirstDifference(Without(kAllCriteria, ignored), Compare, first, second);
}

std::string_view ToText(HomeCriterion criterion) {
  switch (criterion) {
    case HomeCriterion::kDistance:
      return "nearer";
    case HomeCriterion::kEntry:
      return "earlier entered";
    case HomeCriterion::kSlings:
      return "takes more";
  }
  return "";
}

std::string OrderOf(std::span<const HomeCriterion> ignored) {
  return OrderText(Without(kAllCriteria, ignored));
}

}  // namespace broodpact::match
