#pragma once

// Who calls: the device behind a client certificate, if it is a member's and was not cut off. Asked
// for every call, push and part of the log that is sent, not only at the handshake: connections and
// TLS sessions outlive certificates and revocations.

#include <cstdint>
#include <optional>
#include <vector>

#include "absl/status/statusor.h"

#include "client/base/id.h"
#include "client/base/signature.h"
#include "client/device/clock.h"
#include "client/facts/chain.h"
#include "client/facts/commit.h"
#include "client/store/store.h"
#include "server/entrance.h"

namespace grpc {
class AuthContext;
}  // namespace grpc

namespace broodpact::server {

struct Caller {
  DeviceId device;
  KeeperId keeper;
  PublicKey key{};
  std::int64_t until_ms = 0;  // when the certificate expires
};

// UNAUTHENTICATED with reason DEVICE_UNKNOWN.
absl::Status UnknownDeviceError(const DeviceId& device);

// Thread-safe.
class Callers {
 public:
  // Both outlive this.
  Callers(const store::Store& store, const device::Clock& clock) : store_(store), clock_(clock) {}

  // Errors: UNAUTHENTICATED with reason NO_CERTIFICATE, CERTIFICATE_EXPIRED or DEVICE_UNKNOWN;
  // PERMISSION_DENIED with reason DEVICE_REVOKED, DEVICE_REPLACED or DEVICE_LEFT; those of the
  // store.
  absl::StatusOr<Caller> Of(const grpc::AuthContext& context) const;

  // As Of, but a device that this log has never heard of is let in, with a keeper of zeros: it has
  // a certificate of this server, so the log has lost it.
  absl::StatusOr<Caller> OfForgotten(const grpc::AuthContext& context) const;
  // The same without a certificate to look at. One that has its certificate by rotations
  // (rotations.h) is let in as long as the device is whose place it took. Errors: those of Member,
  // but for DEVICE_UNKNOWN.
  absl::StatusOr<Caller> MemberOrForgotten(const DeviceId& device) const;

  // Whether a caller from before is still good.
  // Errors: UNAUTHENTICATED with reason CERTIFICATE_EXPIRED; those of Member.
  absl::Status CheckStill(const Caller& caller) const;

  // The member's device with this id.
  // Errors: UNAUTHENTICATED with reason DEVICE_UNKNOWN; PERMISSION_DENIED with reason
  // DEVICE_REVOKED, DEVICE_REPLACED or DEVICE_LEFT; those of the store.
  absl::StatusOr<Caller> Member(const DeviceId& device) const;

  // The device for which somebody delivers: a member's, cut off or not.
  // Errors: UNAUTHENTICATED with reason DEVICE_UNKNOWN; those of the store.
  absl::StatusOr<Caller> Author(const DeviceId& device) const;

  // Whether it is a member's who may admit others.
  // Errors: those of the store.
  absl::StatusOr<bool> IsRegistrar(const DeviceId& device) const;

  // The key that a registrar's word is signed by: of a device of his that is active, or whose key
  // another one took the place of. Nothing for other devices.
  // Errors: those of the store.
  absl::StatusOr<std::optional<PublicKey>> RegistrarsKey(const DeviceId& device) const;

  // Whether commits of a device are still taken: of one that was cut off, those that its cut
  // awaits.
  // Errors: those of Member.
  absl::Status CheckTaken(const DeviceId& device, const std::vector<facts::Commit>& commits) const;

  // The newest commit of a chain that has its place.
  // Errors: those of the store.
  absl::StatusOr<facts::ChainHead> HeadOf(const facts::ChainId& chain) const {
    return store_.HeadOf(chain);
  }

  // Whether a commit stands at its place of its chain.
  // Errors: those of the store.
  absl::StatusOr<bool> HasPlace(const facts::Commit& commit) const;

  // Whether the joining that a run begins with would bring its author in now.
  // Errors: those of CheckEntrance.
  absl::Status CheckEnters(const Run& run) const {
    return CheckEntrance(store_, run, clock_.NowMillis());
  }

  // By the clock that certificates expire by.
  std::int64_t now_ms() const { return clock_.NowMillis(); }

 private:
  const store::Store& store_;
  const device::Clock& clock_;
};

}  // namespace broodpact::server
