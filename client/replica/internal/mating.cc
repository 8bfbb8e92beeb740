#include "client/replica/internal/mating.h"

#include <algorithm>
#include <vector>

#include "client/replica/internal/bulk.h"

namespace broodpact::replica {

absl::StatusOr<registry::Mating> MatingOf(const registry::Source& source,
                                          const registry::Animal& female) {
  registry::Mating mating;
  BP_ASSIGN_OR_RETURN(mating.pairings, ReadMany<registry::Pairing>(source, female.pairings));
  BP_ASSIGN_OR_RETURN(mating.clutches, ReadMany<registry::Clutch>(source, female.clutches));
  std::vector<LoanId> loans;
  for (const registry::Pairing& pairing : mating.pairings) {
    if (!pairing.loan.empty()) loans.push_back(pairing.loan);
  }
  std::ranges::sort(loans);
  loans.erase(std::unique(loans.begin(), loans.end()), loans.end());
  BP_ASSIGN_OR_RETURN(mating.loans, ReadMany<registry::Loan>(source, loans));
  return mating;
}

}  // namespace broodpact::replica
