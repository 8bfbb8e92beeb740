#include "client/match/candidates.h"

#include <array>
#include <utility>

#include "client/match/internal/ranking.h"

namespace broodpact::match {
namespace {

constexpr std::array<Criterion, kCriteria> kAllCriteria = {
    Criterion::kAvailability, Criterion::kMaturity,  Criterion::kInbreeding, Criterion::kTimeLeft,
    Criterion::kGain,         Criterion::kFreshness, Criterion::kDistance,   Criterion::kPairings};

bool IsOut(const Candidate& male, const Bounds& bounds) {
  return IsAbove(male.offspring_inbreeding, bounds.offspring_inbreeding_max) ||
         IsAbove(Negated(male.diversity_gain), Negated(bounds.diversity_gain_min)) ||
         IsAbove(Negated(male.left_days), Negated(bounds.left_days_min)) ||
         IsAbove(male.mature_days, bounds.mature_days_max) ||
         IsAbove(male.distance_km, bounds.distance_km_max) ||
         IsAbove(std::optional(male.pairings), bounds.pairings_max) ||
         IsAbove(std::optional(male.availability), bounds.availability_max) ||
         IsAcrossBorder(male.nearness, bounds.borders);
}

int Compare(Criterion criterion, const Candidate& a, const Candidate& b) {
  switch (criterion) {
    case Criterion::kAvailability:
      return Compared(a.availability, b.availability);
    case Criterion::kMaturity:
      return Compared(-a.mature_chance.value_or(2), -b.mature_chance.value_or(2));
    case Criterion::kInbreeding:
      return Compared(UnknownLast(a.offspring_inbreeding), UnknownLast(b.offspring_inbreeding));
    case Criterion::kTimeLeft:
      return Compared(UnknownLast(Negated(a.left_days)), UnknownLast(Negated(b.left_days)));
    case Criterion::kGain:
      return Compared(UnknownLast(Negated(a.diversity_gain)),
                      UnknownLast(Negated(b.diversity_gain)));
    case Criterion::kFreshness:
      return Compared(UnknownLast(a.mature_days), UnknownLast(b.mature_days));
    case Criterion::kDistance:
      return ComparedByPlace({a.nearness, a.distance_km}, {b.nearness, b.distance_km});
    case Criterion::kPairings:
      return Compared(a.pairings, b.pairings);
  }
  return 0;
}

}  // namespace

std::vector<Candidate> RankMales(std::vector<Candidate> candidates, const Bounds& bounds,
                                 std::span<const Criterion> ignored) {
  std::erase_if(candidates, [&](const Candidate& male) { return IsOut(male, bounds); });
  SortBy(Without(kAllCriteria, ignored), Compare, &Candidate::animal, candidates);
  return candidates;
}

std::optional<Criterion> DecisiveOf(const Candidate& first, const Candidate& second,
                                    std::span<const Criterion> ignored) {
  return FirstDifference(Without(kAllCriteria, ignored), Compare, first, second);
}

std::string_view ToText(Criterion criterion) {
  switch (criterion) {
    case Criterion::kAvailability:
      return "free first";
    case Criterion::kMaturity:
      return "mature before maturing";
    case Criterion::kInbreeding:
      return "lower inbreeding of the offspring";
    case Criterion::kTimeLeft:
      return "longer expected time left";
    case Criterion::kGain:
      return "larger gain in gene diversity";
    case Criterion::kFreshness:
      return "fresher maturity";
    case Criterion::kDistance:
      return "nearer";
    case Criterion::kPairings:
      return "fewer pairings";
  }
  return "";
}

std::string OrderOf(std::span<const Criterion> ignored) {
  return OrderText(Without(kAllCriteria, ignored));
}

}  // namespace broodpact::match
