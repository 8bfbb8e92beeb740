#pragma once

// Leases: what one device alone may spend for a while, so that what it promises with no network
// stands. A lease ends with its last day by the log's clock, when its device ceases (a key that
// takes the device's place has its leases), when it is spent, and when it is released.

#include <cstdint>
#include <string_view>

#include "client/registry/internal/rules.h"

namespace broodpact::registry {

// SUPERSEDED LEASE_STANDS if another device than the one that writes has the lease. `statement`:
// as in "gift".
Finding CheckLease(Case& c, const Animal& animal, LeaseKind kind, std::string_view statement);

// The same for something that another keeper completes: what the owner said about the animal at
// `said` stands only if it said so with the lease, that is, not before it was granted.
Finding CheckSaidUnderLease(Case& c, const Animal& animal, std::uint64_t said,
                            std::string_view statement);

// SUPERSEDED LEASE_STANDS if so many slings are not free for the device that writes: others have
// leased them.
Finding CheckSlingsFree(Case& c, const Lot& lot, std::uint32_t slings);

// Takes slings that were spent off the lease of the device that writes, if it has one.
void SpendLease(Case& c, Lot& lot, std::uint32_t slings);

// Ends the leases of a token that has been spent.
void EndLeases(Animal& animal, LeaseKind kind);

}  // namespace broodpact::registry
