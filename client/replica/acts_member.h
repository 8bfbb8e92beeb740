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
};

// Cuts a device off. Errors: NOT_FOUND with reason UNKNOWN_SUBJECT; INVALID_ARGUMENT with reason
// CUT_OTHER (the arrival is no commit of the device).
absl::StatusOr<Revoked> RevokeDevice(Replica& replica, const CutDraft& draft);

// Gives a keeper a role. An open motion that asks the same is signed instead.
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
