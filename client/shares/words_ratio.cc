// The lines of a ratio as sentences, with what has to be written down to follow them on paper.

#include <string_view>

#include <fmt/core.h>

#include "client/base/check.h"
#include "client/shares/internal/words.h"
#include "client/shares/phrase.h"
#include "client/shares/ratio.h"

namespace broodpact::shares::internal {
namespace {

using facts::Method;
using facts::Terms;

// What is shared, before the first line: the rest, or all where no claim comes first.
std::string Shared(const Step& step, const Terms& terms) {
  if (terms.prior_claims.empty()) {
    return fmt::format("All {} {}", SlingsText(step.slings_before),
                       step.slings_before == 1 ? "is" : "are");
  }
  return fmt::format("The rest, {}, is", SlingsText(step.slings_before));
}

bool IsFirst(const Step& step, const Terms& terms) {
  return step.party == SharesOf(terms, step.sac_number).front().party;
}

std::string Quota(const Step& step, const std::string& name) {
  std::string text = fmt::format("{}: {} x {}/{} = {}", name, step.slings_before, step.weight,
                                 step.weight_sum, step.slings);
  if (step.remainder != 0) {
    text += fmt::format(" and {}/{} left over", step.remainder, step.weight_sum);
  }
  return text + ".";
}

std::string QuotaSentence(const Step& step, const Terms& terms, const std::string& name) {
  if (!IsFirst(step, terms)) return Quota(step, name);
  const auto& shares = SharesOf(terms, step.sac_number);
  const std::string how =
      shares.size() == 1 ? "for one party" : fmt::format("shared {}", RatioText(shares));
  return fmt::format("{} {}. {}", Shared(step, terms), how, Quota(step, name));
}

std::string RemainderSentence(const Step& step, const std::string& name) {
  return fmt::format("{} left over: {} goes to the largest part still waiting, {}/{}: {}.{}",
                     SlingsText(step.slings_before), step.slings_before == 1 ? "it" : "one",
                     step.remainder, step.weight_sum, name, TieSentence(step.tie));
}

// What a party's n-th sling is worth.
std::string_view Worth(Method method) {
  switch (method) {
    case Method::kLargestRemainder:
      break;
    case Method::kSainteLague:
      return "its share / (2 n - 1)";
    case Method::kDHondt:
      return "its share / n";
    case Method::kAdams:
      return "its share / (n - 1), the first being worth more than any";
    case Method::kHuntingtonHill:
      return "its share / sqrt(n (n - 1)), the first being worth more than any";
  }
  return "";
}

// The worth of a party's n-th sling in numbers.
std::string Quotient(Method method, std::uint64_t weight, std::uint64_t n) {
  switch (method) {
    case Method::kLargestRemainder:
      break;
    case Method::kSainteLague:
      return fmt::format("{}/{}", weight, 2 * n - 1);
    case Method::kDHondt:
      return fmt::format("{}/{}", weight, n);
    case Method::kAdams:
      return n == 1 ? "a first sling" : fmt::format("{}/{}", weight, n - 1);
    case Method::kHuntingtonHill:
      return n == 1 ? "a first sling" : fmt::format("{}/sqrt({} x {})", weight, n, n - 1);
  }
  return "";
}

std::string QuotientSentence(const Step& step, const Terms& terms, const std::string& name) {
  const Method method = terms.apportioning.method;
  std::string text;
  if (IsFirst(step, terms)) {
    const auto& shares = SharesOf(terms, step.sac_number);
    text = shares.size() == 1
               ? fmt::format("{} for one party. ", Shared(step, terms))
               : fmt::format(
                     "{} shared {} by {}: a party's n-th sling is worth {}, and the most "
                     "worth are given. ",
                     Shared(step, terms), RatioText(shares), MethodText(method), Worth(method));
  }
  if (step.slings == 0) return text + fmt::format("{} gets none.", name);
  return text + fmt::format("{} gets {}, the last worth {}.", name, SlingsText(step.slings),
                            Quotient(method, step.weight, step.slings));
}

std::string MarginSentence(const Step& step, const Terms& terms, const Names& names) {
  const Method method = terms.apportioning.method;
  return fmt::format(
      "Of all that were given, {}'s last is worth the least, {}; of those that were not, {}'s next "
      "is worth the most, {}.{}",
      names[step.last.party], Quotient(method, step.last.weight, step.last.slings),
      names[step.next.party],
      Quotient(method, step.next.weight, std::uint64_t{step.next.slings} + 1),
      TieSentence(step.tie));
}

std::string CarriedSentence(const Step& step, const Terms& terms) {
  const auto& shares = SharesOf(terms, step.sac_number);
  const std::string before = step.slings_so_far == 0
                                 ? fmt::format("these are the first that the parties share so")
                                 : fmt::format("{} were shared so before, which makes {}",
                                               SlingsText(step.slings_so_far), step.slings_total);
  return fmt::format(
      "{} shared {}, and remainders carry over: {}. One sling after the other goes to who may have "
      "it without being ahead and would fall behind first ({}).",
      Shared(step, terms), RatioText(shares), before, CarryText(terms.apportioning.carry));
}

std::string RunningSentence(const Step& step, const std::string& name) {
  const std::uint64_t due = std::uint64_t{step.slings_total} * step.weight / step.weight_sum;
  std::string text = fmt::format("{}: {} x {}/{} = {}", name, step.slings_total, step.weight,
                                 step.weight_sum, due);
  if (step.remainder != 0) text += fmt::format(" and {}/{}", step.remainder, step.weight_sum);
  const std::uint32_t has = step.slings_so_far + step.slings;
  text += fmt::format(" due so far, and {} given", has);
  if (step.slings_so_far == 0) return text + ".";
  return text + fmt::format(": {} before, {} now.", step.slings_so_far, step.slings);
}

std::string_view SireRuleText(facts::SireRule rule) {
  switch (rule) {
    case facts::SireRule::kUnspecified:
    case facts::SireRule::kAsWritten:
    case facts::SireRule::kEqual:
      return "equally between the owners of the possible sires";
    case facts::SireRule::kLastPaired:
      return "by who owns the male that was paired last";
    case facts::SireRule::kPairings:
      return "between the owners of the possible sires, by their pairings";
  }
  return "";
}

std::string SireSideSentence(const Step& step, const Terms& terms, const std::string& name) {
  return fmt::format("Not only {}'s males may be the sire: {} of {}'s are divided again, {}.", name,
                     SlingsText(step.slings), name, SireRuleText(terms.apportioning.sires));
}

}  // namespace

std::string TieSentence(TieRule tie) {
  switch (tie) {
    case TieRule::kNoTie:
      return "";
    case TieRule::kLargerShare:
      return " Of equal parts, the larger share comes first.";
    case TieRule::kLowerKeeper:
      return " Of equal parts and equal shares, the lower keeper id comes first.";
  }
  return "";
}

std::string RatioSentence(const Step& step, const Terms& terms, const Names& names) {
  const std::string& name = names[step.party];
  switch (step.kind) {
    case StepKind::kQuota:
      return QuotaSentence(step, terms, name);
    case StepKind::kRemainder:
      return RemainderSentence(step, name);
    case StepKind::kQuotient:
      return QuotientSentence(step, terms, name);
    case StepKind::kMargin:
      return MarginSentence(step, terms, names);
    case StepKind::kCarried:
      return CarriedSentence(step, terms);
    case StepKind::kRunning:
      return RunningSentence(step, name);
    case StepKind::kSireSide:
      return SireSideSentence(step, terms, name);
    case StepKind::kSirePart:
      return Quota(step, name);
    case StepKind::kCounted:
    case StepKind::kSmallClutch:
    case StepKind::kPriorClaim:
    case StepKind::kClaimIdle:
    case StepKind::kLeft:
      break;
  }
  BP_CHECK(false);  // no line of a ratio
  return "";
}

}  // namespace broodpact::shares::internal
