// The working as sentences, with the numbers before and after, so that two keepers can follow a
// split with pencil and paper.

#include "client/shares/internal/words.h"

#include <fmt/core.h>

#include "client/base/check.h"
#include "client/shares/phrase.h"
#include "client/shares/split.h"

namespace broodpact::shares {
namespace {

using facts::ClaimKind;
using facts::PriorClaim;
using facts::Terms;
using internal::Names;

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

// What the claim comes to before its limits and what is left are looked at: "80 x 7.5 % = 6".
std::string PartText(const Step& step, const PriorClaim& claim) {
  const std::uint64_t scaled = std::uint64_t{step.slings_before} * claim.amount;
  std::string text = fmt::format(": {} x {} = {}", step.slings_before, PercentText(claim.amount),
                                 DecimalText(scaled, 4));
  if (scaled != std::uint64_t{step.slings} * facts::kBasisPointsMax) {
    text += fmt::format(", so {}", step.slings);
  }
  return text;
}

std::string ClaimSentence(const Step& step, const Terms& terms, const std::string& name) {
  const PriorClaim& claim = terms.prior_claims[step.claim];
  std::string text = fmt::format("{} has a prior claim to {}", name, AmountText(claim));
  if (step.slings_before == 0) return text + ", but none are left.";
  if (claim.kind == ClaimKind::kBasisPoints) {
    text += PartText(step, claim);
  } else if (step.slings < claim.amount && step.slings != claim.slings_max) {
    text += fmt::format(", but only {} {} left", step.slings_before,
                        step.slings_before == 1 ? "is" : "are");
  }
  return fmt::format("{}. {} - {} = {} left.", text, step.slings_before, step.slings,
                     step.slings_before - step.slings);
}

std::string IdleSentence(const Step& step, const Terms& terms, const std::string& name) {
  const PriorClaim& claim = terms.prior_claims[step.claim];
  if (claim.sacs_max != 0 && step.sac_number > claim.sacs_max) {
    return fmt::format("{} has a prior claim only of {}: this is number {}, so it does not apply.",
                       name, FirstSacsText(claim.sacs_max), step.sac_number);
  }
  return fmt::format(
      "{} has a prior claim only if at least {} were counted: fewer were, so it does not apply.",
      name, SlingsText(claim.slings_counted_min));
}

std::string LeftSentence(const Step& step, const std::string& name) {
  return fmt::format("No share covers the rest: {}, named first, gets {}.", name,
                     SlingsText(step.slings));
}

}  // namespace

std::string Sentence(const Step& step, const Terms& terms, const Names& names) {
  BP_CHECK(names.size() >= terms.parties.size() && step.party < names.size());
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
    case StepKind::kLeft:
      return LeftSentence(step, name);
    case StepKind::kQuota:
    case StepKind::kRemainder:
    case StepKind::kQuotient:
    case StepKind::kMargin:
    case StepKind::kCarried:
    case StepKind::kRunning:
    case StepKind::kSireSide:
    case StepKind::kSirePart:
      return internal::RatioSentence(step, terms, names);
  }
  return "";
}

}  // namespace broodpact::shares
