#include "server/callers.h"

#include <algorithm>
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
#include "server/rotations.h"

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

absl::Status ExpiredError(std::int64_t until_ms) {
  return Fail(absl::StatusCode::kUnauthenticated, "CERTIFICATE_EXPIRED",
              fmt::format("the certificate of this device was good until {}; renew it",
                          InstantText(until_ms)));
}

// What a certificate of this server says.
struct Certified {
  DeviceId device;
  std::int64_t until_ms = 0;
};

absl::StatusOr<Certified> CertifiedBy(const grpc::AuthContext& context, std::int64_t now_ms) {
  if (!context.IsPeerAuthenticated()) return NoCertificateError();
  const std::optional<DeviceId> device = DeviceIn(context);
  if (!device.has_value()) return NoCertificateError();
  BP_ASSIGN_OR_RETURN(const sync::Validity validity, ValidityIn(context));
  if (now_ms > validity.until_ms) return ExpiredError(validity.until_ms);
  return Certified{.device = *device, .until_ms = validity.until_ms};
}

absl::StatusOr<registry::Device> KnownDevice(const store::Store& database, const DeviceId& device) {
  BP_ASSIGN_OR_RETURN(std::optional<registry::Device> found,
                      registry::Read<registry::Device>(database, device));
  if (found.has_value()) return *std::move(found);
  return UnknownDeviceError(device);
}

absl::StatusOr<std::string> NameOf(const store::Store& database, const KeeperId& keeper) {
  BP_ASSIGN_OR_RETURN(const std::optional<registry::Keeper> found,
                      registry::Read<registry::Keeper>(database, keeper));
  return found.has_value() ? found->name : ToShortText(keeper);
}

// What became of a device that ceased, and what its keeper can do.
absl::Status CeasedError(const store::Store& database, const registry::Device& device) {
  BP_ASSIGN_OR_RETURN(const std::string keeper, NameOf(database, device.keeper));
  BP_ASSIGN_OR_RETURN(const std::string by, NameOf(database, device.ended.keeper));
  const std::string when = fmt::format(
      "on {} (arrival {})", ToText(DayOfMillis(device.ended.time_ms)), device.ended.arrival);
  switch (device.state) {
    case registry::DeviceState::kActive:
    case registry::DeviceState::kRevoked:
      break;
    case registry::DeviceState::kReplaced:
      return Fail(absl::StatusCode::kPermissionDenied, "DEVICE_REPLACED",
                  fmt::format("device {} of {} was replaced by device {} {}; go on in the folder "
                              "that has the new key",
                              ToShortText(device.id), keeper, ToShortText(device.successor), when));
    case registry::DeviceState::kLeft:
      return Fail(
          absl::StatusCode::kPermissionDenied, "DEVICE_LEFT",
          fmt::format("{} left the cooperative {}; to come back, ask a registrar for a code "
                      "(broodpact device invite --for {})",
                      keeper, when, keeper));
  }
  const std::string why = device.reason.empty() ? "" : fmt::format(", because: {}", device.reason);
  return Fail(
      absl::StatusCode::kPermissionDenied, "DEVICE_REVOKED",
      fmt::format("device {} of {} was revoked by {} {}{}; what was recorded here since is "
                  "kept, and counts when another device of {} or a registrar adopts it from "
                  "a bundle (bundle write here, bundle read and device adopt there)",
                  ToShortText(device.id), keeper, by, when, why, keeper));
}

absl::StatusOr<bool> HasRegistrarsRole(const store::Store& database, const KeeperId& keeper) {
  BP_ASSIGN_OR_RETURN(const std::optional<registry::Keeper> found,
                      registry::Read<registry::Keeper>(database, keeper));
  return found && found->role == facts::Role::kRegistrar && !found->has_left;
}

Caller CallerOf(const registry::Device& device) {
  return {.device = device.id, .keeper = device.keeper, .key = device.key, .until_ms = 0};
}

}  // namespace

absl::Status UnknownDeviceError(const DeviceId& device) {
  return Fail(
      absl::StatusCode::kUnauthenticated, "DEVICE_UNKNOWN",
      fmt::format("device {} is no member's; ask a registrar for an invitation", ToText(device)));
}

absl::StatusOr<Caller> Callers::Of(const grpc::AuthContext& context) const {
  BP_ASSIGN_OR_RETURN(const Certified certified, CertifiedBy(context, clock_.NowMillis()));
  BP_ASSIGN_OR_RETURN(Caller caller, Member(certified.device));
  caller.until_ms = certified.until_ms;
  return caller;
}

absl::StatusOr<Caller> Callers::OfForgotten(const grpc::AuthContext& context) const {
  BP_ASSIGN_OR_RETURN(const Certified certified, CertifiedBy(context, clock_.NowMillis()));
  BP_ASSIGN_OR_RETURN(Caller caller, MemberOrForgotten(certified.device));
  caller.until_ms = certified.until_ms;
  return caller;
}

absl::StatusOr<Caller> Callers::MemberOrForgotten(const DeviceId& device) const {
  absl::StatusOr<Caller> member = Member(device);
  if (ReasonOf(member.status()) != "DEVICE_UNKNOWN") return member;
  BP_ASSIGN_OR_RETURN(const std::optional<DeviceId> from, ReadRotatedFrom(store_, device));
  if (from) BP_RETURN_IF_ERROR(Member(*from).status());
  return Caller{.device = device, .keeper = {}, .key = {}, .until_ms = 0};
}

absl::Status Callers::CheckStill(const Caller& caller) const {
  if (clock_.NowMillis() > caller.until_ms) return ExpiredError(caller.until_ms);
  return Member(caller.device).status();
}

absl::StatusOr<Caller> Callers::Member(const DeviceId& device) const {
  BP_ASSIGN_OR_RETURN(const registry::Device found, KnownDevice(store_, device));
  if (found.state != registry::DeviceState::kActive) return CeasedError(store_, found);
  return CallerOf(found);
}

absl::StatusOr<Caller> Callers::Author(const DeviceId& device) const {
  BP_ASSIGN_OR_RETURN(const registry::Device found, KnownDevice(store_, device));
  return CallerOf(found);
}

absl::StatusOr<bool> Callers::IsRegistrar(const DeviceId& device) const {
  const absl::StatusOr<Caller> member = Member(device);
  return member.ok() ? HasRegistrarsRole(store_, member->keeper) : absl::StatusOr<bool>(false);
}

absl::StatusOr<std::optional<PublicKey>> Callers::RegistrarsKey(const DeviceId& device) const {
  BP_ASSIGN_OR_RETURN(const std::optional<registry::Device> found,
                      registry::Read<registry::Device>(store_, device));
  const bool may_speak = found && (found->state == registry::DeviceState::kActive ||
                                   found->state == registry::DeviceState::kReplaced);
  if (!may_speak) return std::optional<PublicKey>();
  BP_ASSIGN_OR_RETURN(const bool registrar, HasRegistrarsRole(store_, found->keeper));
  return registrar ? std::optional<PublicKey>(found->key) : std::nullopt;
}

absl::StatusOr<bool> Callers::HasPlace(const facts::Commit& commit) const {
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> bytes,
                      store_.CommitAt(facts::ChainOf(commit.header), commit.header.seq));
  return bytes && Sha256(*bytes) == commit.hash;
}

absl::Status Callers::CheckTaken(const DeviceId& device,
                                 const std::vector<facts::Commit>& commits) const {
  BP_ASSIGN_OR_RETURN(const registry::Device found, KnownDevice(store_, device));
  if (found.state == registry::DeviceState::kActive) return absl::OkStatus();
  const bool awaited = std::ranges::all_of(commits, [&](const facts::Commit& commit) {
    return std::ranges::find(found.awaited, commit.hash) != found.awaited.end();
  });
  return awaited ? absl::OkStatus() : CeasedError(store_, found);
}

}  // namespace broodpact::server
