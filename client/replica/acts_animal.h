#pragma once

// What a keeper states about groups and animals. Each act looks up what the statement spends,
// builds it and gives it to Replica::Act.
//
// A statement with a fresh id comes with that id left empty, and gets it here. Every act may fail
// with the errors of Replica::Act; a day in the future is INVALID_ARGUMENT with reason
// DATE_IN_FUTURE.

#include <optional>

#include "client/replica/acting.h"

namespace broodpact::replica {

absl::StatusOr<Made<GroupId>> EnterGroup(Replica& replica, facts::GroupEntry entry);
absl::StatusOr<Made<AnimalId>> EnterAnimal(Replica& replica, facts::AnimalEntry entry);

absl::StatusOr<Acted> RecordMoult(Replica& replica, const facts::Moult& moult);

// `sex`, where said, is stated with it as told by the adult form, in one commit.
absl::StatusOr<Acted> RecordMaturity(Replica& replica, const facts::Maturity& maturity,
                                     std::optional<facts::Sex> sex);
absl::StatusOr<Acted> ClaimSex(Replica& replica, const facts::SexClaim& claim);
absl::StatusOr<Acted> RecordDeath(Replica& replica, const facts::Death& death);

// Gives an animal away for good; the animal itself goes with it where the giver holds it. The dues
// that run with her (DuesRunningWith, acts_clash.h) are disclosed: she is then offered with them.
absl::StatusOr<Acted> GiveAnimal(Replica& replica, const AnimalId& animal,
                                 const KeeperId& receiver);

}  // namespace broodpact::replica
