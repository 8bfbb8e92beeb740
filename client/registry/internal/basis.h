#pragma once

// What the terms of a clutch's loan say of it, by the version that shares it out: whether they
// cover the sac, what its split rests on beside the count, and what carries over from it.

#include <cstdint>
#include <optional>

#include "client/facts/terms.h"
#include "client/registry/internal/rules.h"
#include "client/shares/occasion.h"

namespace broodpact::registry {

// REFUSED UNKNOWN_PARTY, UNKNOWN_SUBJECT or SEX_CONTRADICTS: the keepers and females whom terms
// name are known, and the females are not known to be male.
Finding CheckTermsNames(Case& c, const facts::Terms& terms);

// A sac that is laid under a loan.
struct CoveredSac {
  AnimalId female{};
  DaySpan laying{};
  std::uint32_t number = 1;  // of this female under this loan
};

// The number that her next sac under the loan would have.
std::uint32_t NextSacNumber(const Loan& loan, const AnimalId& female);

// REFUSED NOT_COVERED if the terms surely do not cover the sac.
Finding CheckCovered(Case& c, const Loan& loan, const CoveredSac& sac);

// Counts a sac of hers under the loan. Where by the terms the next one takes the place of one that
// came to nothing, that is counted no longer; and again once slings of it are found after all.
Finding TallySac(Case& c, const LoanId& loan, const AnimalId& female);
void GiveNumberBack(Case& c, const ClutchId& clutch);
void TakeNumberAgain(Case& c, const ClutchId& clutch);

// What a split rests on beside the count.
struct SplitBasis {
  facts::Terms terms{};
  shares::Occasion occasion{};
  std::optional<CarryId> carry{};  // where remainders carry over
};

// REFUSED AGREEMENT_UNREADABLE; `clutch` has a loan. A clutch that was shared out before keeps the
// occasion of its first split: its possible sires, and its place among the clutches between the
// same parties. What it has to share later is shared as if it had been there then.
Finding SplitBasisOf(Case& c, const Clutch& clutch, SplitBasis& basis);

// SUPERSEDED CARRY_MOVED if another split between the same parties came first; REFUSED
// SPLIT_DIFFERS if nothing carries over, and the split says that something does, or if it was
// settled by the clutch's first split what does.
Finding CheckCarried(Case& c, const facts::SplitRecord& s, const Clutch& clutch,
                     const SplitBasis& basis);

// REFUSED WITNESS_MISSING unless the witness whom the terms name has confirmed the count.
Finding CheckWitnessed(Case& c, const Clutch& clutch, const CountRecord& count,
                       const facts::Terms& terms);

// Flags a count by somebody else than the terms say.
void FlagCounter(Case& c, const Clutch& clutch);

// Adds slings that a split shared by ratio to what carries over. The account is of the parties of
// the terms, whoever has their shares.
void KeepCarry(Case& c, const ClutchId& clutch, const SplitBasis& basis, std::uint32_t slings);

}  // namespace broodpact::registry
