#pragma once

// A device that this server has not heard of, whose key took the place of one that it knows: at the
// server before this one, or before this one lost it. It gets a certificate by that, to give back
// what the server lacks, and has no more than the device that it comes from: one such at a time,
// and none once that one is cut off.

#include <optional>

#include "absl/status/statusor.h"

#include "broodpact/v1/joining_service.pb.h"
#include "client/base/hash.h"
#include "client/base/id.h"
#include "client/base/signature.h"
#include "client/store/store.h"
#include "server/callers.h"

namespace broodpact::server {

// What rotations prove.
struct Rotated {
  DeviceId from;    // a member's, known here
  PublicKey key{};  // that took its place
};

// Follows the rotations in the request from the first member's device on: each is signed by the key
// before it and by the one that takes its place. Those before that device have arrived.
// Errors: UNAUTHENTICATED with reason DEVICE_UNKNOWN (they do not lead from a member to `device`);
// those of Callers::Member, and of CheckRun.
absl::StatusOr<Rotated> FollowRotations(const Callers& callers, const Hash& cooperative,
                                        const DeviceId& device, const v1::RenewRequest& request);

// Keeps that `to`, which the log does not have yet, took the place of `from`. On the thread that
// writes. Errors: PERMISSION_DENIED with reason DEVICE_REPLACED (another one did); those of the
// store.
absl::Status KeepRotation(store::Store& store, const DeviceId& from, const DeviceId& to);

// The device whose place that one took, if it was kept. Errors: those of the store.
absl::StatusOr<std::optional<DeviceId>> ReadRotatedFrom(const store::Store& store,
                                                        const DeviceId& device);

}  // namespace broodpact::server
