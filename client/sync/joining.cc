#include "client/sync/joining.h"

#include <memory>
#include <utility>

#include <grpcpp/grpcpp.h>

#include "broodpact/v1/joining_service.grpc.pb.h"
#include "client/base/status.h"

namespace broodpact::sync {
namespace {

// A caller that has no certificate, or whose certificate is of no use any more.
absl::StatusOr<std::unique_ptr<v1::JoiningService::Stub>> StubOf(const Credentials& credentials) {
  BP_ASSIGN_OR_RETURN(std::shared_ptr<grpc::Channel> channel,
                      Connect({.address = credentials.address,
                               .authority_pem = credentials.authority_pem,
                               .certificate_pem = "",
                               .key_pem = ""},
                              0));
  return v1::JoiningService::NewStub(channel);
}

// Calls one method and returns its answer as values.
template <typename Response, typename Request>
absl::StatusOr<Response> Call(const Credentials& credentials, const Request& request,
                              grpc::Status (v1::JoiningService::Stub::*method)(grpc::ClientContext*,
                                                                               const Request&,
                                                                               Response*)) {
  BP_ASSIGN_OR_RETURN(const auto stub, StubOf(credentials));
  grpc::ClientContext context;
  SetDeadline(context, kAnswerSeconds);
  Response response;
  const grpc::Status status = ((*stub).*method)(&context, request, &response);
  BP_RETURN_IF_ERROR(FromGrpc(status, context, credentials.address));
  return response;
}

void Write(const facts::SignedCommit& commit, v1::SignedCommit& message) {
  message.set_commit(commit.bytes);
  message.set_signature(std::string(ViewOf(commit.signature)));
}

v1::JoinRequest JoinRequestOf(const Hash& cooperative, const facts::SignedCommit& joining,
                              const PublicKey& tls_key, const Signer& device) {
  v1::JoinRequest request;
  request.set_cooperative_id(std::string(ViewOf(cooperative)));
  Write(joining, *request.mutable_joining());
  request.set_tls_key(std::string(ViewOf(tls_key)));
  request.set_tls_key_signature(
      std::string(ViewOf(device.Sign(JoiningKeyMessage(cooperative, tls_key)))));
  return request;
}

absl::StatusOr<std::string> SendJoin(const Credentials& credentials,
                                     const v1::JoinRequest& request) {
  BP_ASSIGN_OR_RETURN(
      const v1::JoinResponse response,
      (Call<v1::JoinResponse>(credentials, request, &v1::JoiningService::Stub::Join)));
  return response.certificate_pem();
}

}  // namespace

absl::StatusOr<std::string> Claim(const Credentials& credentials, const std::string& claim_secret,
                                  const facts::SignedCommit& founding, const PublicKey& tls_key) {
  v1::ClaimRequest request;
  request.set_claim_secret(claim_secret);
  Write(founding, *request.mutable_founding());
  request.set_tls_key(std::string(ViewOf(tls_key)));
  BP_ASSIGN_OR_RETURN(
      const v1::ClaimResponse response,
      (Call<v1::ClaimResponse>(credentials, request, &v1::JoiningService::Stub::Claim)));
  return response.certificate_pem();
}

absl::StatusOr<TakenOver> TakeOver(const Credentials& credentials, const Takeover& takeover,
                                   const PublicKey& tls_key, const Signer& device) {
  v1::ClaimRequest request;
  request.set_claim_secret(takeover.claim_secret);
  Write(takeover.founding, *request.mutable_founding());
  request.set_tls_key(std::string(ViewOf(tls_key)));
  Write(takeover.predecessor, *request.mutable_predecessor());
  for (const PublicKey& key : takeover.left) {
    request.add_left_server_keys(std::string(ViewOf(key)));
  }
  request.set_device_key(std::string(ViewOf(device.public_key())));
  request.set_tls_key_signature(
      std::string(ViewOf(device.Sign(TakeoverMessage(takeover.cooperative, tls_key)))));
  BP_ASSIGN_OR_RETURN(
      const v1::ClaimResponse response,
      (Call<v1::ClaimResponse>(credentials, request, &v1::JoiningService::Stub::Claim)));
  TakenOver taken{.certificate_pem = response.certificate_pem(), .head = {}};
  BP_ASSIGN_OR_RETURN(taken.head, ReadHead(response.head(), takeover.cooperative));
  return taken;
}

absl::StatusOr<std::string> Join(const Credentials& credentials, const Hash& cooperative,
                                 const facts::SignedCommit& joining, const PublicKey& tls_key,
                                 const Signer& device) {
  return SendJoin(credentials, JoinRequestOf(cooperative, joining, tls_key, device));
}

absl::StatusOr<std::string> JoinAgain(const Credentials& credentials, const Reentry& reentry,
                                      const PublicKey& tls_key, const Signer& device) {
  v1::JoinRequest request = JoinRequestOf(reentry.cooperative, reentry.joining, tls_key, device);
  const SignedRun& inviting = reentry.inviting;
  if (inviting.commits.empty()) return SendJoin(credentials, request);
  v1::Push& push = *request.mutable_inviting();
  push.mutable_commits()->Assign(inviting.commits.begin(), inviting.commits.end());
  push.set_signature(std::string(ViewOf(inviting.signature)));
  return SendJoin(credentials, request);
}

absl::StatusOr<std::string> Renew(const Credentials& credentials, const Signer& device,
                                  const PublicKey& tls_key,
                                  const std::vector<facts::SignedCommit>& rotations) {
  BP_ASSIGN_OR_RETURN(const v1::ChallengeResponse challenge,
                      (Call<v1::ChallengeResponse>(credentials, v1::ChallengeRequest{},
                                                   &v1::JoiningService::Stub::Challenge)));
  v1::RenewRequest request;
  request.set_device_id(std::string(ViewOf(DeviceOf(device.public_key()).bytes)));
  request.set_nonce(challenge.nonce());
  request.set_tls_key(std::string(ViewOf(tls_key)));
  request.set_signature(
      std::string(ViewOf(device.Sign(RenewalMessage(challenge.nonce(), tls_key)))));
  for (const facts::SignedCommit& one : rotations) Write(one, *request.add_rotations());
  BP_ASSIGN_OR_RETURN(
      const v1::RenewResponse response,
      (Call<v1::RenewResponse>(credentials, request, &v1::JoiningService::Stub::Renew)));
  return response.certificate_pem();
}

std::string JoiningKeyMessage(const Hash& cooperative, const PublicKey& tls_key) {
  using namespace std::string_view_literals;
  std::string message("broodpact joining key v1\0"sv);
  message.append(ViewOf(cooperative));
  message.append(ViewOf(tls_key));
  return message;
}

std::string TakeoverMessage(const Hash& cooperative, const PublicKey& tls_key) {
  using namespace std::string_view_literals;
  std::string message("broodpact takeover v1\0"sv);
  message.append(ViewOf(cooperative));
  message.append(ViewOf(tls_key));
  return message;
}

std::string RenewalMessage(std::string_view nonce, const PublicKey& tls_key) {
  using namespace std::string_view_literals;
  std::string message("broodpact renewal v1\0"sv);
  message.append(nonce);
  message.append(ViewOf(tls_key));
  return message;
}

}  // namespace broodpact::sync
