#pragma once

// A device that this server has not heard of, whose key took the place of one that it knows: at the
// server before this one, or before this one lost it.

#include "absl/status/statusor.h"

#include "broodpact/v1/joining_service.pb.h"
#include "client/base/hash.h"
#include "client/base/id.h"
#include "client/base/signature.h"
#include "server/callers.h"

namespace broodpact::server {

// The key of `device`, by the rotations in the request: from a member's device on, each signed by
// the key before it and by the one that takes its place. Nothing is stored: the device is to give
// back what the server lacks.
// Errors: UNAUTHENTICATED with reason DEVICE_UNKNOWN (they do not lead to it); those of
// Callers::Member, and of CheckRun.
absl::StatusOr<PublicKey> KeyByRotations(const Callers& callers, const Hash& cooperative,
                                         const DeviceId& device, const v1::RenewRequest& request);

}  // namespace broodpact::server
