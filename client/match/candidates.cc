#include "client/match/candidates.h"

#include <algorithm>
#include <array>
#include <tuple>
#include <utility>

namespace broodpact::match {
namespace {

// A number for sorting, where what is not known comes after all that is.
template <typename Number>
std::pair<bool, Number> UnknownLast(const std::optional<Number>& number) {
  return {!number.has_value(), number.value_or(Number{})};
}

std::optional<double> Negated(const std::optional<double>& number) {
  return number ? std::optional(-*number) : std::nullopt;
}

bool IsTooInbred(const std::optional<double>& offspring_inbreeding, const Bounds& bounds) {
  return bounds.offspring_inbreeding_max && offspring_inbreeding &&
         *offspring_inbreeding > *bounds.offspring_inbreeding_max;
}

bool IsTooLate(const std::optional<double>& left_days, const Bounds& bounds) {
  return bounds.left_days_min && left_days && *left_days < *bounds.left_days_min;
}

bool IsTooFar(const std::optional<std::uint32_t>& km, const Bounds& bounds) {
  return bounds.distance_km_max && km && *km > *bounds.distance_km_max;
}

bool IsPromised(Availability availability, const Bounds& bounds) {
  return bounds.availability_max && availability > *bounds.availability_max;
}

bool IsOut(const Candidate& male, const Bounds& bounds) {
  return IsTooInbred(male.offspring_inbreeding, bounds) || IsTooLate(male.left_days, bounds) ||
         IsTooFar(male.distance_km, bounds) || IsPromised(male.availability, bounds) ||
         (bounds.pairings_max && male.pairings > *bounds.pairings_max);
}

// Below, at or above 0 as the key of `a` comes before, with or after that of `b`.
template <typename Key>
int Compared(const Key& a, const Key& b) {
  return a < b ? -1 : b < a ? 1 : 0;
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
    case Criterion::kFreshness:
      return Compared(UnknownLast(a.mature_days), UnknownLast(b.mature_days));
    case Criterion::kDistance:
      return Compared(std::pair(a.nearness, UnknownLast(a.distance_km)),
                      std::pair(b.nearness, UnknownLast(b.distance_km)));
    case Criterion::kPairings:
      return Compared(a.pairings, b.pairings);
  }
  return 0;
}

constexpr std::array<Criterion, kCriteria> kAllCriteria = {
    Criterion::kAvailability, Criterion::kMaturity, Criterion::kInbreeding, Criterion::kTimeLeft,
    Criterion::kFreshness,    Criterion::kDistance, Criterion::kPairings};

std::vector<Criterion> Without(std::span<const Criterion> ignored) {
  std::vector<Criterion> left(kAllCriteria.begin(), kAllCriteria.end());
  std::erase_if(left, [&](Criterion criterion) {
    return std::ranges::find(ignored, criterion) != ignored.end();
  });
  return left;
}

auto KeyOf(const FemaleCandidate& female) {
  return std::tuple(female.availability, UnknownLast(female.offspring_inbreeding),
                    UnknownLast(female.moult_days), female.nearness,
                    UnknownLast(female.distance_km), female.animal);
}

}  // namespace

std::vector<Candidate> RankMales(std::vector<Candidate> candidates, const Bounds& bounds,
                                 std::span<const Criterion> ignored) {
  std::erase_if(candidates, [&](const Candidate& male) { return IsOut(male, bounds); });
  const std::vector<Criterion> criteria = Without(ignored);
  std::ranges::sort(candidates, [&](const Candidate& a, const Candidate& b) {
    for (const Criterion criterion : criteria) {
      if (const int order = Compare(criterion, a, b); order != 0) return order < 0;
    }
    return a.animal < b.animal;
  });
  return candidates;
}

std::optional<Criterion> DecisiveOf(const Candidate& first, const Candidate& second,
                                    std::span<const Criterion> ignored) {
  for (const Criterion criterion : Without(ignored)) {
    if (Compare(criterion, first, second) != 0) return criterion;
  }
  return std::nullopt;
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
  std::string order;
  for (const Criterion criterion : Without(ignored)) {
    order += (order.empty() ? "" : ", ") + std::string(ToText(criterion));
  }
  return order.empty() ? "in order of id" : order;
}

std::vector<FemaleCandidate> RankFemales(std::vector<FemaleCandidate> candidates,
                                         const Bounds& bounds) {
  std::erase_if(candidates, [&](const FemaleCandidate& female) {
    return IsTooInbred(female.offspring_inbreeding, bounds) ||
           IsTooFar(female.distance_km, bounds) || IsPromised(female.availability, bounds);
  });
  std::ranges::sort(candidates, [](const FemaleCandidate& a, const FemaleCandidate& b) {
    return KeyOf(a) < KeyOf(b);
  });
  return candidates;
}

}  // namespace broodpact::match
