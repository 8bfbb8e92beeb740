#include "server/joining_service.h"

#include <memory>
#include <optional>
#include <utility>
#include <variant>
#include <vector>

#include "absl/status/status.h"
#include <fmt/format.h>

#include "client/base/status.h"
#include "client/sync/joining.h"
#include "client/sync/key_list.h"
#include "server/answer.h"
#include "server/door.h"
#include "server/entrance.h"
#include "server/epochs.h"
#include "server/inviting.h"
#include "server/rotations.h"

namespace broodpact::server {
namespace {

absl::StatusOr<PublicKey> TlsKeyOf(const std::string& bytes) {
  const std::optional<PublicKey> key = PublicKeyOfBytes(bytes);
  if (!key.has_value()) {
    return Fail(absl::StatusCode::kInvalidArgument, "TLS_KEY_BAD",
                "the key for the certificate is no Ed25519 key of 32 bytes");
  }
  return *key;
}

absl::Status CheckNotDeviceKey(const DeviceId& device, const PublicKey& tls_key) {
  if (DeviceOf(tls_key) != device) return absl::OkStatus();
  return Fail(absl::StatusCode::kInvalidArgument, "TLS_KEY_BAD",
              "the key for the certificate is the device's own; make another one");
}

absl::StatusOr<std::vector<PublicKey>> LeftServersIn(const v1::ClaimRequest& request) {
  std::vector<PublicKey> left;
  bool good = static_cast<std::size_t>(request.left_server_keys_size()) <= sync::kLeftServersMax;
  for (int i = 0; good && i < request.left_server_keys_size(); ++i) {
    const std::optional<PublicKey> key = PublicKeyOfBytes(request.left_server_keys(i));
    good = key.has_value();
    if (good) left.push_back(*key);
  }
  if (good) return left;
  return Fail(absl::StatusCode::kInvalidArgument, "SERVER_KEYS_BAD",
              "the keys of servers that were left are at most 64, of 32 bytes each");
}

// CheckJoining has seen to it that there is one.
Entering JoiningIn(const Run& run) {
  return EnteringIn(run.commits.front()).value_or(Entering{});
}

// The joining commit is in the log, for every member to send again: that the key for the
// certificate is the newcomer's is what the device itself says here.
absl::Status CheckJoiningKey(const Run& run, const PublicKey& tls_key,
                             const std::string& signature) {
  const std::optional<Signature> parsed = SignatureOfBytes(signature);
  if (parsed.has_value() &&
      VerifySignature(JoiningIn(run).device_key,
                      sync::JoiningKeyMessage(run.commits.front().header.cooperative, tls_key),
                      *parsed)) {
    return absl::OkStatus();
  }
  return Fail(absl::StatusCode::kInvalidArgument, "TLS_KEY_BAD",
              "the key for the certificate is not signed by the device that joins");
}

}  // namespace

grpc::Status JoiningService::Claim(grpc::ServerContext* context, const v1::ClaimRequest* request,
                                   v1::ClaimResponse* response) {
  const absl::StatusOr<std::string> pem = request->has_predecessor()
                                              ? CertificateForSuccession(*request)
                                              : CertificateForFounder(*request);
  if (pem.ok()) {
    response->set_certificate_pem(*pem);
    sync::Write(surroundings_.arrival_log.herald().head(), *response->mutable_head());
  }
  return ToGrpc(pem.status(), *context);
}

grpc::Status JoiningService::Join(grpc::ServerContext* context, const v1::JoinRequest* request,
                                  v1::JoinResponse* response) {
  const absl::StatusOr<std::string> pem = CertificateForNewcomer(*request);
  if (pem.ok()) response->set_certificate_pem(*pem);
  return ToGrpc(pem.status(), *context);
}

grpc::Status JoiningService::Challenge(grpc::ServerContext* /*context*/,
                                       const v1::ChallengeRequest* /*request*/,
                                       v1::ChallengeResponse* response) {
  response->set_nonce(nonces_.Make(now_ms()));
  return grpc::Status::OK;
}

grpc::Status JoiningService::Renew(grpc::ServerContext* context, const v1::RenewRequest* request,
                                   v1::RenewResponse* response) {
  const absl::StatusOr<std::string> pem = CertificateForMember(*request);
  if (pem.ok()) response->set_certificate_pem(*pem);
  return ToGrpc(pem.status(), *context);
}

absl::Status JoiningService::CheckMayClaim(const std::string& secret) {
  const absl::Status open = claims_.CheckOpen(now_ms());
  return surroundings_.claim.Matches(secret) ? absl::OkStatus() : open;
}

absl::Status JoiningService::CheckMayJoin(const std::string& joining) {
  absl::Status open = joinings_.CheckOpen(now_ms());
  if (open.ok()) return open;
  const absl::StatusOr<facts::Commit> commit = facts::ParseCommit(joining);
  if (!commit.ok()) return open;
  BP_ASSIGN_OR_RETURN(const bool invited, IsInvited(surroundings_.store, *commit));
  return invited ? absl::OkStatus() : open;
}

absl::StatusOr<std::string> JoiningService::CertificateForFounder(const v1::ClaimRequest& request) {
  BP_RETURN_IF_ERROR(CheckMayClaim(request.claim_secret()));
  BP_ASSIGN_OR_RETURN(const PublicKey tls_key, TlsKeyOf(request.tls_key()));
  BP_ASSIGN_OR_RETURN(Run run,
                      CheckFounding(request.founding().commit(), request.founding().signature()));
  const DeviceId device = run.chain.device;
  BP_RETURN_IF_ERROR(CheckNotDeviceKey(device, tls_key));
  BP_RETURN_IF_ERROR(CheckSecret(request.claim_secret(), run.commits.front().hash));
  const std::string secret_hash(ViewOf(surroundings_.claim.secret_hash()));
  BP_RETURN_IF_ERROR(AwaitPlace(
      {.run = std::move(run), .meta = {{kClaimMeta, secret_hash}}, .founds = true, .answer = {}}));
  surroundings_.claim.Forget();
  // Claimed again long after: the founder's device may have been revoked since.
  BP_RETURN_IF_ERROR(surroundings_.callers.Member(device).status());
  surroundings_.log.Write(Level::kInfo, "claimed", {{"device", ToText(device)}});
  return surroundings_.authority.IssueClient(device, tls_key, now_ms());
}

absl::StatusOr<std::string> JoiningService::CertificateForSuccession(
    const v1::ClaimRequest& request) {
  BP_RETURN_IF_ERROR(CheckMayClaim(request.claim_secret()));
  BP_ASSIGN_OR_RETURN(const PublicKey tls_key, TlsKeyOf(request.tls_key()));
  BP_ASSIGN_OR_RETURN(const Run run,
                      CheckFounding(request.founding().commit(), request.founding().signature()));
  const Hash cooperative = run.commits.front().hash;
  BP_RETURN_IF_ERROR(CheckSecret(request.claim_secret(), cooperative));
  BP_ASSIGN_OR_RETURN(const sync::Head predecessor,
                      sync::ReadHead(request.predecessor(), cooperative));
  const std::optional<PublicKey> device_key = PublicKeyOfBytes(request.device_key());
  const std::optional<Signature> signature = SignatureOfBytes(request.tls_key_signature());
  if (!device_key || !signature ||
      !VerifySignature(*device_key, sync::TakeoverMessage(cooperative, tls_key), *signature)) {
    return Fail(absl::StatusCode::kInvalidArgument, "TLS_KEY_BAD",
                "the key for the certificate is not signed by the device that claims");
  }
  const DeviceId device = DeviceOf(*device_key);
  BP_RETURN_IF_ERROR(CheckNotDeviceKey(device, tls_key));
  BP_ASSIGN_OR_RETURN(const std::vector<PublicKey> left, LeftServersIn(request));
  const std::string secret_hash(ViewOf(surroundings_.claim.secret_hash()));
  BP_RETURN_IF_ERROR(surroundings_.arrival_log.Succeed(
      cooperative, predecessor,
      {{kClaimMeta, secret_hash}, {std::string(kLeftServersName), sync::EncodeKeys(left)}}));
  BP_RETURN_IF_ERROR(surroundings_.callers.MemberOrForgotten(device).status());
  surroundings_.log.Write(Level::kInfo, "claimed", {{"device", ToText(device)}});
  return surroundings_.authority.IssueClient(device, tls_key, now_ms());
}

absl::Status JoiningService::CheckSecret(const std::string& secret, const Hash& founding) {
  const bool taken = surroundings_.arrival_log.claimed();
  const bool matches = surroundings_.claim.Matches(secret);
  if (!matches) claims_.CountFailure(now_ms());
  if (taken && (!matches || surroundings_.arrival_log.cooperative() != founding)) {
    return Fail(absl::StatusCode::kAlreadyExists, "SERVER_TAKEN",
                "this server belongs to a cooperative already; set up another one");
  }
  if (matches) return absl::OkStatus();
  return Fail(absl::StatusCode::kPermissionDenied, "CLAIM_WRONG",
              "that is not the code that this server printed; copy it again");
}

absl::StatusOr<std::string> JoiningService::CertificateForNewcomer(const v1::JoinRequest& request) {
  BP_RETURN_IF_ERROR(CheckMayJoin(request.joining().commit()));
  BP_ASSIGN_OR_RETURN(const PublicKey tls_key, TlsKeyOf(request.tls_key()));
  const Hash cooperative = surroundings_.arrival_log.cooperative();
  if (!surroundings_.arrival_log.claimed() || request.cooperative_id() != ViewOf(cooperative)) {
    return Fail(absl::StatusCode::kFailedPrecondition, "COOPERATIVE_OTHER",
                "this server is not the one of the cooperative that the code invites to; ask for a "
                "new code");
  }
  BP_ASSIGN_OR_RETURN(Run run, CheckJoining(request.joining().commit(),
                                            request.joining().signature(), cooperative));
  const DeviceId device = run.chain.device;
  BP_RETURN_IF_ERROR(CheckNotDeviceKey(device, tls_key));
  BP_RETURN_IF_ERROR(CheckJoiningKey(run, tls_key, request.tls_key_signature()));
  if (request.has_inviting()) BP_RETURN_IF_ERROR(TakeInviting(request.inviting(), run));
  BP_RETURN_IF_ERROR(CheckInvitation(run));
  BP_RETURN_IF_ERROR(
      AwaitPlace({.run = std::move(run), .meta = {}, .founds = false, .answer = {}}));
  // Two may have come with one invitation at the same moment: the fold says who is in.
  const absl::StatusOr<Caller> member = surroundings_.callers.Member(device);
  if (ReasonOf(member.status()) == "DEVICE_UNKNOWN") return UsedError();
  if (!member.ok()) return member.status();
  surroundings_.log.Write(Level::kInfo, "joined", {{"device", ToText(device)}});
  return surroundings_.authority.IssueClient(device, tls_key, now_ms());
}

absl::Status JoiningService::CheckInvitation(const Run& run) {
  absl::Status status = CheckEntrance(surroundings_.store, run, now_ms());
  const bool guessed = ReasonOf(status) == "INVITE_UNKNOWN" || ReasonOf(status) == "INVITE_USED";
  if (guessed) joinings_.CountFailure(now_ms());
  return status;
}

absl::Status JoiningService::TakeInviting(const v1::Push& inviting, const Run& joining) {
  const absl::Status entrance = CheckEntrance(surroundings_.store, joining, now_ms());
  if (ReasonOf(entrance) != "INVITE_UNKNOWN") return absl::OkStatus();
  absl::StatusOr<Run> run = CheckInviting(surroundings_.callers, inviting, joining);
  if (!run.ok()) return absl::OkStatus();
  // Its author pays, as for a push of his own. Who has nothing left brings it himself, later.
  const DeviceId author = run->chain.device;
  const auto bytes = static_cast<std::int64_t>(inviting.ByteSizeLong());
  if (!surroundings_.allowance.Take(author, bytes, now_ms()).ok()) return absl::OkStatus();
  const absl::StatusOr<Receipt> placed =
      AwaitReceipt({.run = *std::move(run), .meta = {}, .founds = false, .answer = {}});
  const bool has_arrived = placed.ok() && placed->fresh > 0;
  if (!has_arrived) surroundings_.allowance.PutBack(author, bytes);
  // Its author went on otherwise: that is not the newcomer's affair.
  return absl::IsFailedPrecondition(placed.status()) ? absl::OkStatus() : placed.status();
}

absl::StatusOr<Receipt> JoiningService::AwaitReceipt(Submission submission) {
  std::vector<Submission> one;
  one.push_back(std::move(submission));
  return surroundings_.arrival_log.Await(std::move(one)).front();
}

absl::Status JoiningService::AwaitPlace(Submission submission) {
  BP_ASSIGN_OR_RETURN(const Receipt receipt, AwaitReceipt(std::move(submission)));
  return StatusOf(receipt.verdict);
}

absl::StatusOr<Rotated> JoiningService::Renewing(const DeviceId& device,
                                                 const v1::RenewRequest& request) const {
  const absl::StatusOr<Caller> member = surroundings_.callers.Member(device);
  if (member.ok()) return Rotated{.from = device, .key = member->key};
  if (ReasonOf(member.status()) != "DEVICE_UNKNOWN" || request.rotations().empty()) {
    return member.status();
  }
  return FollowRotations(surroundings_.callers, surroundings_.arrival_log.cooperative(), device,
                         request);
}

absl::StatusOr<std::string> JoiningService::CertificateForMember(const v1::RenewRequest& request) {
  BP_ASSIGN_OR_RETURN(const PublicKey tls_key, TlsKeyOf(request.tls_key()));
  if (!nonces_.IsFresh(request.nonce(), now_ms())) {
    return Fail(absl::StatusCode::kUnauthenticated, "NONCE_STALE",
                "the renewal took longer than a minute; try again");
  }
  const DeviceId device{IdOfBytes(request.device_id()).value_or(IdBytes{})};
  BP_ASSIGN_OR_RETURN(const Rotated renewing, Renewing(device, request));
  BP_RETURN_IF_ERROR(CheckNotDeviceKey(device, tls_key));
  const std::optional<Signature> signature = SignatureOfBytes(request.signature());
  if (!signature.has_value() ||
      !VerifySignature(renewing.key, sync::RenewalMessage(request.nonce(), tls_key), *signature)) {
    return Fail(absl::StatusCode::kUnauthenticated, "SIGNATURE_BAD",
                "the renewal is not signed by the device that it names");
  }
  if (renewing.from != device) {
    BP_RETURN_IF_ERROR(surroundings_.arrival_log.NoteRotation(renewing.from, device));
  }
  surroundings_.log.Write(Level::kInfo, "renewed",
                          {{"device", ToText(device)}, {"known_as", ToText(renewing.from)}});
  return surroundings_.authority.IssueClient(device, tls_key, now_ms());
}

}  // namespace broodpact::server
