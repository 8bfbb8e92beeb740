// The working as sentences, with the numbers before and after, so that two keepers can follow a
// split with pencil and paper.

#include <string_view>

#include <fmt/core.h>

#include "client/base/check.h"
#include "client/shares/phrase.h"
#include "client/shares/split.h"

namespace broodpact::shares {
namespace {

using facts::ClaimKind;
using facts::PriorClaim;
using facts::Terms;
using Names = std::vector<std::string>;

std::string CountedSentence(const Step& step) {
  if (step.slings_before == 0) return "No slings were counted: there is nothing to share.";
  return fmt::format("{} {} counted.", SlingsText(step.slings_before),
                     step.slings_before == 1 ? "was" : "were");
}

std::string SmallClutchSentence(const Step& step, const Terms& terms, const std::string& name) {
  const std::uint32_t below = terms.small_clutch ? terms.small_clutch->below : 0;
  return fmt::format("A clutch of fewer than {} goes whole to one party: {} gets {}.",
                     SlingsText(below), name, SlingsText(step.slings));
}

std::string ClaimSentence(const Step& step, const Terms& terms, const std::string& name) {
  const PriorClaim& claim = terms.prior_claims[step.claim];
  std::string text = fmt::format("{} has a prior claim to {}", name, AmountText(claim));
  if (step.slings_before == 0) return text + ", but none are left.";
  if (claim.kind == ClaimKind::kBasisPoints) {
    const std::uint64_t scaled = std::uint64_t{step.slings_before} * claim.amount;
    text += fmt::format(": {} x {} = {}", step.slings_before, PercentText(claim.amount),
                        DecimalText(scaled, 4));
    if (scaled != std::uint64_t{step.slings} * facts::kBasisPointsMax) {
      text += fmt::format(", so {}", step.slings);
    }
  } else if (step.slings < claim.amount && step.slings != claim.slings_max) {
    text += fmt::format(", but only {} {} left", step.slings_before,
                        step.slings_before == 1 ? "is" : "are");
  }
  return fmt::format("{}. {} - {} = {} left.", text, step.slings_before, step.slings,
                     step.slings_before - step.slings);
}

std::string IdleSentence(const Step& step, const Terms& terms, const std::string& name) {
  return fmt::format(
      "{} has a prior claim only if at least {} were counted: fewer were, so it does not apply.",
      name, SlingsText(terms.prior_claims[step.claim].slings_counted_min));
}

// What is shared, before the first quota: the rest, or all where no claim comes first.
std::string Shared(const Step& step, const Terms& terms) {
  if (terms.prior_claims.empty()) {
    return fmt::format("All {} {}", SlingsText(step.slings_before),
                       step.slings_before == 1 ? "is" : "are");
  }
  return fmt::format("The rest, {}, is", SlingsText(step.slings_before));
}

std::string QuotaSentence(const Step& step, const Terms& terms, const std::string& name) {
  std::string text;
  if (step.party == terms.shares.front().party) {
    text = terms.shares.size() == 1
               ? fmt::format("{} for one party. ", Shared(step, terms))
               : fmt::format("{} shared {}. ", Shared(step, terms), RatioText(terms));
  }
  text += fmt::format("{}: {} x {}/{} = {}", name, step.slings_before, step.weight, step.weight_sum,
                      step.slings);
  if (step.remainder != 0) {
    text += fmt::format(" and {}/{} left over", step.remainder, step.weight_sum);
  }
  return text + ".";
}

std::string_view TieSentence(TieRule tie) {
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

std::string RemainderSentence(const Step& step, const std::string& name) {
  return fmt::format("{} left over: {} goes to the largest part still waiting, {}/{}: {}.{}",
                     SlingsText(step.slings_before), step.slings_before == 1 ? "it" : "one",
                     step.remainder, step.weight_sum, name, TieSentence(step.tie));
}

std::string LeftSentence(const Step& step, const std::string& name) {
  return fmt::format("No share covers the rest: {}, named first, gets {}.", name,
                     SlingsText(step.slings));
}

}  // namespace

std::string Sentence(const Step& step, const Terms& terms, const Names& names) {
  BP_CHECK(names.size() == terms.parties.size());
  const std::string& name = names[step.party];
  switch (step.kind) {
    case StepKind::kCounted:
      return CountedSentence(step);
    case StepKind::kSmallClutch:
      return SmallClutchSentence(step, terms, name);
    case StepKind::kPriorClaim:
      return ClaimSentence(step, terms, name);
    case StepKind::kClaimIdle:
      return IdleSentence(step, terms, name);
    case StepKind::kQuota:
      return QuotaSentence(step, terms, name);
    case StepKind::kRemainder:
      return RemainderSentence(step, name);
    case StepKind::kLeft:
      return LeftSentence(step, name);
  }
  return "";
}

}  // namespace broodpact::shares
