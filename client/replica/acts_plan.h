#pragma once

// What a keeper states about plans and searches. Errors as in acts_animal.h.

#include <string>
#include <vector>

#include "broodpact/v1/registry.pb.h"
#include "client/facts/terms.h"
#include "client/replica/acting.h"
#include "client/replica/acts_loan.h"

namespace broodpact::replica {

// Keeps animals out of plans, or lets them in again.
absl::StatusOr<Acted> StateVeto(Replica& replica, const facts::PlanVeto& veto);

// Says what one is looking for; `want.want` is made here.
// Errors: INVALID_ARGUMENT with reason DATE_PAST.
absl::StatusOr<Made<WantId>> StateWant(Replica& replica, facts::WantEntry want);
absl::StatusOr<Acted> EndWant(Replica& replica, const WantId& want);

// The loan offers that follow from a plan: one for each male that this replica's keeper owns and
// has, and that the plan sends to another keeper; to the keeper with the most sacs expected of him,
// then the nearest by name, where there are several. Left out is who is promised or on his way, and
// an offer that is open already. The drafts have no terms and no day of return yet.
absl::StatusOr<std::vector<LoanDraft>> OffersOf(const Replica& replica, const v1::Plan& plan);

// Offers all of them in one commit: all stand, or none. Not empty, at most kOffersMax.
inline constexpr std::size_t kOffersMax = 64;
absl::StatusOr<Acted> OfferAll(Replica& replica, const std::vector<LoanDraft>& drafts);

}  // namespace broodpact::replica
