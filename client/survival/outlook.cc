#include "client/survival/outlook.h"

#include <algorithm>
#include <utility>

#include <fmt/format.h>

namespace broodpact::survival {
namespace {

std::optional<Outlook> OfCurve(const Curve& curve, Level level, double age) {
  if (!Suffices(curve)) return std::nullopt;
  const Estimate left = TimeLeft(curve, age);
  if (!left.days) return std::nullopt;
  return Outlook{.level = level, .left = left, .lives = curve.lives, .deaths = curve.deaths};
}

}  // namespace

bool Suffices(const Curve& curve) {
  return curve.lives >= kLivesMin && curve.deaths >= kDeathsMin;
}

std::optional<Outlook> OutlookAt(const Evidence& evidence, double age) {
  if (auto found = OfCurve(evidence.group, Level::kGroup, age)) return found;
  if (auto found = OfCurve(evidence.genus, Level::kGenus, age)) return found;
  if (!evidence.prior) return std::nullopt;
  const double low = std::max(0.0, evidence.prior->low - age);
  const double high = std::max(0.0, evidence.prior->high - age);
  return Outlook{.level = Level::kPrior,
                 .left = {.days = (low + high) / 2, .lower = low, .upper = high}};
}

std::optional<double> ChanceOfLasting(const Evidence& evidence, double age, double days) {
  const std::optional<Outlook> outlook = OutlookAt(evidence, age);
  if (!outlook) return std::nullopt;
  if (outlook->level != Level::kPrior) {
    const Curve& curve = outlook->level == Level::kGroup ? evidence.group : evidence.genus;
    const std::optional<Chance> chance = ChanceOfLasting(curve, age, days);
    // Longer than anyone was watched: the curve ends, and what is past its end is not known.
    return chance ? std::optional(chance->share) : std::nullopt;
  }
  const Estimate& left = outlook->left;
  if (!left.lower || !left.upper) return std::nullopt;  // a prior has both
  const double low = *left.lower;
  const double high = *left.upper;
  if (days <= low) return high > 0 ? 1 : 0;
  return days >= high ? 0 : (high - days) / (high - low);
}

std::string BasisOf(const Evidence& evidence, const Outlook& outlook) {
  const auto counted = [&] {
    return fmt::format("{} lives, {} ended", outlook.lives, outlook.deaths);
  };
  switch (outlook.level) {
    case Level::kGroup:
      return counted();
    case Level::kGenus:
      return "genus: " + counted();
    case Level::kPrior:
      break;
  }
  return fmt::format("prior, {}", evidence.prior ? ToText(evidence.prior->trust) : "");
}

}  // namespace broodpact::survival
