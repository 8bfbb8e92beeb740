#include "client/shares/phrase.h"

#include <fmt/core.h>

namespace broodpact::shares {

std::string SlingsText(std::uint64_t slings) {
  return fmt::format("{} {}", slings, slings == 1 ? "sling" : "slings");
}

std::string DecimalText(std::uint64_t scaled, int digits) {
  std::uint64_t unit = 1;
  for (int i = 0; i < digits; ++i) unit *= 10;
  std::string text = fmt::format("{}.{:0{}}", scaled / unit, scaled % unit, digits);
  text.erase(text.find_last_not_of('0') + 1);
  if (text.back() == '.') text.pop_back();
  return text;
}

std::string PercentText(std::uint32_t basis_points) {
  return fmt::format("{} %", DecimalText(basis_points, 2));
}

std::string ListText(const std::vector<std::string>& items) {
  std::string text;
  for (std::size_t i = 0; i < items.size(); ++i) {
    if (i > 0) text += i + 1 == items.size() ? " and " : ", ";
    text += items[i];
  }
  return text;
}

std::string RatioText(const std::vector<facts::RatioShare>& shares) {
  std::string text;
  for (const facts::RatioShare& share : shares) {
    if (!text.empty()) text += " : ";
    text += std::to_string(share.weight);
  }
  return text;
}

std::string AmountText(const facts::PriorClaim& claim) {
  std::string text = claim.kind == facts::ClaimKind::kSlings
                         ? SlingsText(claim.amount)
                         : fmt::format("{} of what is left", PercentText(claim.amount));
  if (claim.slings_min != 0) text += fmt::format(", at least {}", SlingsText(claim.slings_min));
  if (claim.slings_max != 0) text += fmt::format(", at most {}", SlingsText(claim.slings_max));
  return text;
}

std::string FirstSacsText(std::uint32_t sacs) {
  return sacs == 1 ? "the first sac" : fmt::format("the first {} sacs", sacs);
}

std::string CountText(std::uint32_t count, std::string_view noun) {
  return fmt::format("{} {}{}", count, noun, count == 1 ? "" : "s");
}

std::string_view MethodText(facts::Method method) {
  switch (method) {
    case facts::Method::kLargestRemainder:
      return "largest remainder";
    case facts::Method::kSainteLague:
      return "Sainte-Lague's method";
    case facts::Method::kDHondt:
      return "D'Hondt's method";
    case facts::Method::kAdams:
      return "Adams's method";
    case facts::Method::kHuntingtonHill:
      return "Huntington and Hill's method";
  }
  return "";
}

std::string_view CarryText(facts::Carry carry) {
  switch (carry) {
    case facts::Carry::kUnspecified:
    case facts::Carry::kOff:
      return "";
    case facts::Carry::kQuota:
      return "quota method of Balinski and Young";
    case facts::Carry::kChairman:
      return "chairman assignment of Tijdeman";
  }
  return "";
}

}  // namespace broodpact::shares
