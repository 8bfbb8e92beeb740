#include "client/match/candidates.h"

#include <algorithm>
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

// The order of males as a key: the lower stands first.
auto KeyOf(const Candidate& male) {
  return std::tuple(male.availability, UnknownLast(male.offspring_inbreeding),
                    UnknownLast(Negated(male.left_days)), UnknownLast(male.mature_days),
                    male.nearness, male.pairings, male.animal);
}

auto KeyOf(const FemaleCandidate& female) {
  return std::tuple(female.availability, UnknownLast(female.offspring_inbreeding),
                    UnknownLast(female.moult_days), female.nearness, female.animal);
}

}  // namespace

std::vector<Candidate> RankMales(std::vector<Candidate> candidates, const Bounds& bounds) {
  std::erase_if(candidates, [&](const Candidate& male) {
    return IsTooInbred(male.offspring_inbreeding, bounds) || IsTooLate(male.left_days, bounds);
  });
  std::ranges::sort(candidates,
                    [](const Candidate& a, const Candidate& b) { return KeyOf(a) < KeyOf(b); });
  return candidates;
}

std::vector<FemaleCandidate> RankFemales(std::vector<FemaleCandidate> candidates,
                                         const Bounds& bounds) {
  std::erase_if(candidates, [&](const FemaleCandidate& female) {
    return IsTooInbred(female.offspring_inbreeding, bounds);
  });
  std::ranges::sort(candidates, [](const FemaleCandidate& a, const FemaleCandidate& b) {
    return KeyOf(a) < KeyOf(b);
  });
  return candidates;
}

}  // namespace broodpact::match
