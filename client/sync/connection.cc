#include "client/sync/connection.h"

#include <algorithm>
#include <chrono>
#include <utility>

#include "absl/status/status.h"
#include <fmt/format.h>
#include <grpcpp/grpcpp.h>
#include <openssl/err.h>

#include "client/base/day.h"
#include "client/base/status.h"
#include "client/base/text.h"
#include "client/sync/certificate.h"

namespace broodpact::sync {
namespace {

// The name that every server's certificate carries beside its host's: a server that moves to
// another address stays the server that it was.
constexpr const char* kServerName = "broodpact-server";
constexpr int kReceiveBytesMax = 8 * 1'024 * 1'024;
// The server takes a ping every 10 s at most (PLATFORM: more often ends the connection).
constexpr int kKeepaliveMillis = 30'000;
constexpr int kKeepaliveTimeoutMillis = 10'000;
constexpr std::size_t kReasonMax = 63;
constexpr std::size_t kMessageMax = 1'024;

absl::Status CertificateDamagedError(std::string_view which) {
  return Fail(absl::StatusCode::kDataLoss, "CERTIFICATE_DAMAGED",
              fmt::format("the {} cannot be read; join again with a new invite code", which));
}

absl::Status CheckOwnCertificate(const Credentials& credentials, X509* authority,
                                 std::int64_t now_ms) {
  const CertificateOwner certificate = CertificateOfPem(credentials.certificate_pem);
  if (certificate == nullptr) return CertificateDamagedError("certificate of this device");
  const KeyOwner key = KeyOfPem(credentials.key_pem);
  if (key == nullptr || X509_check_private_key(certificate.get(), key.get()) != 1) {
    return CertificateDamagedError("key of this device's certificate");
  }
  if (X509_verify(certificate.get(), X509_get0_pubkey(authority)) != 1) {
    ERR_clear_error();  // or a later call would take it for its own
    return Fail(absl::StatusCode::kFailedPrecondition, "CERTIFICATE_OTHER",
                "the certificate of this device is of another cooperative's server; renew it");
  }
  BP_ASSIGN_OR_RETURN(const Validity validity, ValidityOf(certificate.get()));
  if (now_ms > validity.until_ms) {
    return Fail(absl::StatusCode::kFailedPrecondition, "CERTIFICATE_EXPIRED",
                fmt::format("the certificate of this device was good until {}; renew it, and check "
                            "the clock of this machine",
                            InstantText(validity.until_ms)));
  }
  return absl::OkStatus();
}

// The authority is made with the server and outlives all that it vouches for: a day outside its
// dates is the clock's mistake.
absl::Status CheckClock(const X509* authority, std::int64_t now_ms) {
  BP_ASSIGN_OR_RETURN(const Validity validity, ValidityOf(authority));
  if (now_ms >= validity.from_ms && now_ms <= validity.until_ms) return absl::OkStatus();
  return Fail(absl::StatusCode::kFailedPrecondition, "CLOCK_WRONG",
              fmt::format("the clock of this computer says {}, and the server vouches for itself "
                          "from {} to {}; set the clock and sync again, what was recorded is kept",
                          InstantText(now_ms), InstantText(validity.from_ms),
                          InstantText(validity.until_ms)));
}

grpc::ChannelArguments Arguments() {
  grpc::ChannelArguments arguments;
  arguments.SetSslTargetNameOverride(kServerName);
  arguments.SetMaxReceiveMessageSize(kReceiveBytesMax);
  arguments.SetInt(GRPC_ARG_KEEPALIVE_TIME_MS, kKeepaliveMillis);
  arguments.SetInt(GRPC_ARG_KEEPALIVE_TIMEOUT_MS, kKeepaliveTimeoutMillis);
  arguments.SetInt(GRPC_ARG_HTTP2_MAX_PINGS_WITHOUT_DATA, 0);
  // Bounds the wait for a connection too.
  arguments.SetInt(GRPC_ARG_MIN_RECONNECT_BACKOFF_MS, kConnectSeconds * 1'000);
  // FetchAuthority connects directly, so everything does.
  arguments.SetInt(GRPC_ARG_ENABLE_HTTP_PROXY, 0);
  // A channel of its own: one that failed a moment ago does not make the next one wait.
  arguments.SetInt(GRPC_ARG_USE_LOCAL_SUBCHANNEL_POOL, 1);
  return arguments;
}

// The reason, if it has the form of one: it comes from a peer.
std::string ReasonIn(const grpc::ClientContext& context) {
  const auto& trailers = context.GetServerTrailingMetadata();
  const auto found = trailers.find("broodpact-reason");
  if (found == trailers.end() || found->second.empty() || found->second.size() > kReasonMax) {
    return "";
  }
  std::string reason(found->second.data(), found->second.size());
  const bool well_formed = std::ranges::all_of(
      reason, [](char c) { return (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_'; });
  return well_formed ? reason : "";
}

// The message, if it may be shown on a terminal: it comes from a peer.
std::string MessageIn(const grpc::Status& status) {
  std::string message = status.error_message();
  if (message.empty() || !CheckText("message", message, kMessageMax).ok()) {
    return "the server gives no message that can be shown";
  }
  return message;
}

// Whether a connection came to nothing because the peer is not the server of our authority. gRPC
// says so only in words.
bool IsOtherServer(const grpc::Status& status) {
  const std::string& message = status.error_message();
  return message.find("certificate verify failed") != std::string::npos ||
         message.find("CERTIFICATE_VERIFY_FAILED") != std::string::npos ||
         message.find("is not in peer certificate") != std::string::npos;
}

}  // namespace

absl::StatusOr<std::shared_ptr<grpc::Channel>> Connect(const Credentials& credentials,
                                                       std::int64_t now_ms) {
  const CertificateOwner authority = CertificateOfPem(credentials.authority_pem);
  if (authority == nullptr) return CertificateDamagedError("certificate of the server's authority");
  grpc::SslCredentialsOptions options;
  options.pem_root_certs = credentials.authority_pem;
  if (!credentials.certificate_pem.empty()) {
    BP_RETURN_IF_ERROR(CheckClock(authority.get(), now_ms));
    BP_RETURN_IF_ERROR(CheckOwnCertificate(credentials, authority.get(), now_ms));
    options.pem_cert_chain = credentials.certificate_pem;
    options.pem_private_key = credentials.key_pem;
  }
  return grpc::CreateCustomChannel(credentials.address, grpc::SslCredentials(options), Arguments());
}

void SetDeadline(grpc::ClientContext& context, std::chrono::seconds deadline) {
  context.set_deadline(std::chrono::system_clock::now() + deadline);
}

absl::Status FromGrpc(const grpc::Status& status, const grpc::ClientContext& context,
                      const std::string& address) {
  if (status.ok()) return absl::OkStatus();
  const auto code = static_cast<absl::StatusCode>(status.error_code());
  const std::string reason = ReasonIn(context);
  if (!reason.empty()) return Fail(code, reason, MessageIn(status));
  if (IsOtherServer(status)) {
    return Fail(absl::StatusCode::kPermissionDenied, "SERVER_OTHER",
                fmt::format("somebody else answers at {}: not the server that this device joined; "
                            "check the address",
                            address));
  }
  if (code == absl::StatusCode::kUnavailable || code == absl::StatusCode::kDeadlineExceeded) {
    return Fail(
        absl::StatusCode::kUnavailable, "SERVER_AWAY",
        fmt::format(
            "no server answers at {}, or it does not take this device's "
            "certificate; what was recorded is kept: sync again, or where it is gone for good, "
            "go over to another one by a registrar's code (broodpact server move)",
            address));
  }
  return Fail(code, "SERVER_ANSWER", MessageIn(status));
}

}  // namespace broodpact::sync
