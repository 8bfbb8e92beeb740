#include "client/match/females.h"

#include <array>
#include <utility>

#include "client/match/internal/ranking.h"

namespace broodpact::match {
namespace {

constexpr std::array<FemaleCriterion, kFemaleCriteria> kAllCriteria = {
    FemaleCriterion::kAvailability, FemaleCriterion::kBreeding, FemaleCriterion::kInbreeding,
    FemaleCriterion::kGain,         FemaleCriterion::kMoult,    FemaleCriterion::kDistance};

bool IsOut(const FemaleCandidate& female, const FemaleBounds& bounds) {
  return IsAbove(female.offspring_inbreeding, bounds.offspring_inbreeding_max) ||
         IsAbove(Negated(female.diversity_gain), Negated(bounds.diversity_gain_min)) ||
         IsAbove(female.moult_days, bounds.moult_days_max) ||
         IsAbove(female.distance_km, bounds.distance_km_max) ||
         IsAbove(std::optional(female.availability), bounds.availability_max) ||
         IsAbove(std::optional(female.breeding), bounds.breeding_max) ||
         IsAcrossBorder(female.nearness, bounds.borders);
}

int Compare(FemaleCriterion criterion, const FemaleCandidate& a, const FemaleCandidate& b) {
  switch (criterion) {
    case FemaleCriterion::kAvailability:
      return Compared(a.availability, b.availability);
    case FemaleCriterion::kBreeding:
      return Compared(a.breeding, b.breeding);
    case FemaleCriterion::kInbreeding:
      return Compared(UnknownLast(a.offspring_inbreeding), UnknownLast(b.offspring_inbreeding));
    case FemaleCriterion::kGain:
      return Compared(UnknownLast(Negated(a.diversity_gain)),
                      UnknownLast(Negated(b.diversity_gain)));
    case FemaleCriterion::kMoult:
      return Compared(UnknownLast(a.moult_days), UnknownLast(b.moult_days));
    case FemaleCriterion::kDistance:
      return ComparedByPlace({a.nearness, a.distance_km}, {b.nearness, b.distance_km});
  }
  return 0;
}

}  // namespace

std::vector<FemaleCandidate> RankFemales(std::vector<FemaleCandidate> candidates,
                                         const FemaleBounds& bounds,
                                         std::span<const FemaleCriterion> ignored) {
  std::erase_if(candidates, [&](const FemaleCandidate& female) { return IsOut(female, bounds); });
  SortBy(Without(kAllCriteria, ignored), Compare, &FemaleCandidate::animal, candidates);
  return candidates;
}

std::optional<FemaleCriterion> DecisiveOf(const FemaleCandidate& first,
                                          const FemaleCandidate& second,
                                          std::span<const FemaleCriterion> ignored) {
  return FirstDifference(Without(kAllCriteria, ignored), Compare, first, second);
}

std::string_view ToText(FemaleCriterion criterion) {
  switch (criterion) {
    case FemaleCriterion::kAvailability:
      return "free first";
    case FemaleCriterion::kBreeding:
      return "ready before not known to be mature before occupied";
    case FemaleCriterion::kInbreeding:
      return "lower inbreeding of the offspring";
    case FemaleCriterion::kGain:
      return "larger gain in gene diversity";
    case FemaleCriterion::kMoult:
      return "fresher moult";
    case FemaleCriterion::kDistance:
      return "nearer";
  }
  return "";
}

std::string OrderOf(std::span<const FemaleCriterion> ignored) {
  return OrderText(Without(kAllCriteria, ignored));
}

}  // namespace broodpact::match
