#pragma once

// Who calls: the device behind a client certificate, if it is a member's. Asked for every call, not
// only at the handshake: connections and TLS sessions outlive certificates.

#include <cstdint>

#include "absl/status/statusor.h"

#include "client/base/id.h"
#include "client/base/signature.h"
#include "client/device/clock.h"
#include "client/store/store.h"

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

// Thread-safe.
class Callers {
 public:
  // Both outlive this.
  Callers(const store::Store& store, const device::Clock& clock) : store_(store), clock_(clock) {}

  // Errors: UNAUTHENTICATED with reason NO_CERTIFICATE, CERTIFICATE_EXPIRED or DEVICE_UNKNOWN;
  // those of the store.
  absl::StatusOr<Caller> Of(const grpc::AuthContext& context) const;

  // Whether a caller from before is still good.
  // Errors: UNAUTHENTICATED with reason CERTIFICATE_EXPIRED.
  absl::Status CheckStill(const Caller& caller) const;

  // The member's device with this id.
  // Errors: UNAUTHENTICATED with reason DEVICE_UNKNOWN; those of the store.
  absl::StatusOr<Caller> Member(const DeviceId& device) const;

 private:
  const store::Store& store_;
  const device::Clock& clock_;
};

}  // namespace broodpact::server
