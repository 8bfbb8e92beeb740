#pragma once

// What a keeper states about members, their devices and roles, and about leases. Errors as in
// acts_animal.h.

#include <cstdint>
#include <optional>
#include <string>

#include "client/replica/acting.h"

namespace broodpact::replica {

// Which commits of a device count.
struct CutDraft {
  DeviceId device{};
  // The arrival of the last commit of the device that counts; nothing: the last that has arrived.
  std::optional<std::uint64_t> last_arrival{};
  // Whether what this replica carries of the device, undelivered, counts too.
  bool with_carried = false;
  std::string reason{};
};

struct Revoked {
  Acted acted;
  std::string cut{};                // "commit 7 of life 1"
  std::uint64_t arrived_after = 0;  // commits after the cut that arrived before, and stand
  // The motion that was open and is signed; cut and reason are its own. Nothing: there was none.
  std::optional<MotionId> signed_motion{};
  // Of the device now. Active: it goes on until enough others have signed.
  registry::DeviceState state = registry::DeviceState::kActive;
};

// Cuts a device off, or asks others to: of another registrar's device, an open motion that asks the
// same is signed instead.
// Errors: NOT_FOUND with reason UNKNOWN_SUBJECT; reason CUT_OTHER, as INVALID_ARGUMENT (the arrival
// is no commit of the device) or FAILED_PRECONDITION (nothing of it has arrived; or a cut is asked
// for, and the motion that is open has another one).
absl::StatusOr<Revoked> RevokeDevice(Replica& replica, const CutDraft& draft);

// Gives a keeper a role. An open motion that asks the same of another keeper is signed instead.
absl::StatusOr<Acted> ChangeRole(Replica& replica, const KeeperId& keeper, facts::Role role,
                                 const std::string& reason);
absl::StatusOr<Acted> SignMotion(Replica& replica, const MotionId& motion);

// Leaves the cooperative: all devices of this replica's keeper cease.
absl::StatusOr<Acted> Leave(Replica& replica, const std::string& reason);

// Leases what the keeper has of an animal: the ownership, the holding, or both.
absl::StatusOr<Made<LeaseId>> LeaseAnimal(Replica& replica, const AnimalId& animal, Day until);
// Leases a number of slings of an own lot.
absl::StatusOr<Made<LeaseId>> LeaseSlings(Replica& replica, const LotId& lot, std::uint32_t slings,
                                          Day until);
// Ends this device's leases on an animal or a lot. Errors: NOT_FOUND with reason NO_LEASE.
absl::StatusOr<Acted> ReleaseAnimal(Replica& replica, const AnimalId& animal);
absl::StatusOr<Acted> ReleaseLot(Replica& replica, const LotId& lot);

}  // namespace broodpact::replica
