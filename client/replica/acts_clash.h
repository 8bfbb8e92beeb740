#pragma once

// What keepers state about what they disagree on, and about dues that change hands. Errors as in
// acts_animal.h.

#include <string>
#include <vector>

#include "client/replica/acting.h"

namespace broodpact::replica {

// Objects to a count (`count_token`) or to the split (empty).
absl::StatusOr<Acted> ObjectTo(Replica& replica, const facts::Objection& objection);

// Takes an objection or a rival count of one's own back.
absl::StatusOr<Acted> WithdrawClash(Replica& replica, const ClashId& clash,
                                    const std::string& reason);

// Proposes a settlement; a registrar who is no party decides by it. Shares and moves get the ids
// of their lots here.
absl::StatusOr<Acted> SettleClash(Replica& replica, facts::ClashSettlement settlement);

// Signs the settlement that `settlement` names; empty: the last one that was proposed.
// Errors: FAILED_PRECONDITION with reason NOTHING_TO_SIGN.
absl::StatusOr<Acted> SignSettlement(Replica& replica, const ClashId& clash, Token settlement);

// The loans whose dues run with an animal that is given away now, in order of id.
absl::StatusOr<std::vector<LoanId>> DuesRunningWith(const Replica& replica, const AnimalId& animal);

// Offers a sac for good, with the due that runs with it.
absl::StatusOr<Acted> GiveSac(Replica& replica, facts::SacGift gift);

// Accepts a female, or a sac, with the dues that run with it.
// Errors: FAILED_PRECONDITION with reason NOT_OFFERED.
absl::StatusOr<Acted> AcceptAnimal(Replica& replica, const AnimalId& animal);
absl::StatusOr<Acted> AcceptSac(Replica& replica, const ClutchId& clutch);

// Says who acts for a keeper who leaves.
absl::StatusOr<Acted> NameSuccessor(Replica& replica, const facts::Succession& succession);

}  // namespace broodpact::replica
