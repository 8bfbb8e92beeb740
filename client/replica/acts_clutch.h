#pragma once

// What a keeper states about pairings, sacs, counts, splits and lots. Errors as in acts_animal.h.

#include <optional>
#include <vector>

#include "client/replica/acting.h"

namespace broodpact::replica {

absl::StatusOr<Made<PairingId>> RecordPairing(Replica& replica, facts::Pairing pairing);

// The loan that a sac laid by `female` on `laying` falls under: the one that her pairings of that
// interval were under, in force or closed since. Nothing if there was none.
// Errors: INVALID_ARGUMENT with reason AMBIGUOUS_LOAN (they were under several; the message names
// them); UNKNOWN_SUBJECT.
absl::StatusOr<std::optional<LoanId>> LoanOfLaying(const Replica& replica, const AnimalId& female,
                                                   const DaySpan& laying);

absl::StatusOr<Made<ClutchId>> RecordSac(Replica& replica, facts::SacLaying laying);
absl::StatusOr<Acted> PullSac(Replica& replica, const facts::SacPulling& pulling);
absl::StatusOr<Acted> LoseSac(Replica& replica, const facts::SacLoss& loss);

// Records a count; `count.count_token` says which count it replaces.
absl::StatusOr<Acted> RecordCount(Replica& replica, const facts::Count& count);

// The count of a clutch that stands; nothing before the first one. Rivals stay beside it until a
// person counts again.
// Errors: UNKNOWN_SUBJECT.
absl::StatusOr<std::optional<registry::CountRecord>> StandingCount(const Replica& replica,
                                                                   const ClutchId& clutch);

// Records the split that the signed terms imply for what is not shared out yet of the standing
// count; without a loan, all of it is the clutch's owner's.
// Errors: FAILED_PRECONDITION with reason CLUTCH_NOT_COUNTED; UNKNOWN_SUBJECT.
absl::StatusOr<Acted> RecordSplit(Replica& replica, const ClutchId& clutch);

// Records slings that hatched after the count.
absl::StatusOr<Acted> HatchLate(Replica& replica, const facts::LateHatching& hatching);

// Gives a share up, or passes it on.
absl::StatusOr<Acted> WaiveShare(Replica& replica, const facts::ShareWaiver& waiver);

// Hands slings of a lot over; the result is the lot that travels.
absl::StatusOr<Made<LotId>> SendSlings(Replica& replica, facts::LotDispatch dispatch);
absl::StatusOr<Acted> ReceiveSlings(Replica& replica, const facts::LotReceipt& receipt);
absl::StatusOr<Acted> LoseSlings(Replica& replica, const facts::LotLoss& loss);

// Gives slings back to the clutch; passes them on where they are; divides and merges lots.
absl::StatusOr<Acted> ReturnSlings(Replica& replica, const facts::LotReturn& back);
absl::StatusOr<Made<LotId>> PassSlings(Replica& replica, facts::LotPassing passing);
absl::StatusOr<Made<LotId>> DivideLot(Replica& replica, facts::LotDivision division);
absl::StatusOr<Acted> MergeLots(Replica& replica, const facts::LotMerging& merging);

// Raises a sling into an animal with a name.
absl::StatusOr<Made<AnimalId>> RaiseSling(Replica& replica, facts::LotRaising raising);

}  // namespace broodpact::replica
