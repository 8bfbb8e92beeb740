#pragma once

// What a replica does for sealed text by itself, with what it knows when it has synced: states the
// key of its device, brings what its keeper may read to new devices of the keeper, opens the
// keeper's address to the other party of a handover, and takes back what has ended.
//
// It states things and touches no network: who calls it delivers them. It is no part of Sync, which
// only carries what keepers and their programs have stated.

#include <cstddef>
#include <cstdint>
#include <vector>

#include "absl/status/statusor.h"

#include "client/base/day.h"
#include "client/replica/replica.h"

namespace broodpact::replica {

// An address that is open to a keeper, up to a day.
struct OpenedAddress {
  KeeperId keeper{};
  Day until{};
};

struct SealedCare {
  bool key_stated = false;
  std::size_t resealed = 0;  // notes that further devices can open now
  std::size_t ended = 0;     // notes that were taken back
  std::vector<OpenedAddress> addresses{};

  bool did_something() const {
    return key_stated || resealed > 0 || ended > 0 || !addresses.empty();
  }
};

// How long an address is open to the other party of a loan: from the day on which the loan came in
// force, and again from each dispatch of the animal.
inline constexpr std::int32_t kAddressDays = 30;

// All of it, as much as a few commits hold; the next call goes on. Nothing before this device is a
// member's, and nothing after it was cut off.
// Errors: those of Act, of device::SealingKey and of the store. What cannot be stated about one
// note stops no other.
absl::StatusOr<SealedCare> CareForSealed(Replica& replica);

// States the key to seal to this device with, unless it is stated. Returns whether it did.
// Errors: those of Act and of device::SealingKey.
absl::StatusOr<bool> StateSealingKey(Replica& replica);

// Opens this keeper's address, if it has written one for nobody in particular (WriteSealed without
// readers: that is its leave), to the other party of each loan in force, for kAddressDays. Those
// who have no device to seal to yet get it by a later call.
absl::StatusOr<std::vector<OpenedAddress>> OpenAddresses(Replica& replica);

}  // namespace broodpact::replica
