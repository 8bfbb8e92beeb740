#include "server/callers.h"

#include <optional>
#include <string>
#include <string_view>

#include "absl/status/status.h"
#include <fmt/format.h>
#include <grpcpp/security/auth_context.h>

#include "client/base/day.h"
#include "client/base/status.h"
#include "client/registry/state.h"
#include "client/sync/certificate.h"
#include "server/authority.h"

namespace broodpact::server {
namespace {

absl::Status NoCertificateError() {
  return Fail(absl::StatusCode::kUnauthenticated, "NO_CERTIFICATE",
              "the connection has no certificate of this server's authority; join the cooperative "
              "first");
}

// The device that a certificate names, in its URI.
std::optional<DeviceId> DeviceIn(const grpc::AuthContext& context) {
  for (const grpc::string_ref& uri : context.FindPropertyValues("peer_uri")) {
    const std::string_view text(uri.data(), uri.size());
    if (!text.starts_with(kDeviceUri)) continue;
    const std::optional<IdBytes> id = ParseIdText(text.substr(kDeviceUri.size()));
    if (id.has_value()) return DeviceId{*id};
  }
  return std::nullopt;
}

absl::StatusOr<sync::Validity> ValidityIn(const grpc::AuthContext& context) {
  const auto pems = context.FindPropertyValues("x509_pem_cert");
  if (pems.empty()) return NoCertificateError();
  const sync::CertificateOwner certificate =
      sync::CertificateOfPem({pems.front().data(), pems.front().size()});
  if (certificate == nullptr) return NoCertificateError();
  return sync::ValidityOf(certificate.get());
}

}  // namespace

absl::StatusOr<Caller> Callers::Of(const grpc::AuthContext& context) const {
  if (!context.IsPeerAuthenticated()) return NoCertificateError();
  const std::optional<DeviceId> device = DeviceIn(context);
  if (!device.has_value()) return NoCertificateError();
  BP_ASSIGN_OR_RETURN(const sync::Validity validity, ValidityIn(context));
  Caller caller;
  caller.until_ms = validity.until_ms;
  BP_RETURN_IF_ERROR(CheckStill(caller));
  BP_ASSIGN_OR_RETURN(caller, Member(*device));
  caller.until_ms = validity.until_ms;
  return caller;
}

absl::Status Callers::CheckStill(const Caller& caller) const {
  if (clock_.NowMillis() <= caller.until_ms) return absl::OkStatus();
  return Fail(absl::StatusCode::kUnauthenticated, "CERTIFICATE_EXPIRED",
              fmt::format("the certificate of this device was good until {}; renew it",
                          InstantText(caller.until_ms)));
}

absl::StatusOr<Caller> Callers::Member(const DeviceId& device) const {
  BP_ASSIGN_OR_RETURN(const std::optional<registry::Device> found,
                      registry::Read<registry::Device>(store_, device));
  if (!found.has_value()) {
    return Fail(
        absl::StatusCode::kUnauthenticated, "DEVICE_UNKNOWN",
        fmt::format("device {} is no member's; ask a registrar for an invitation", ToText(device)));
  }
  return Caller{.device = device, .keeper = found->keeper, .key = found->key, .until_ms = 0};
}

}  // namespace broodpact::server
