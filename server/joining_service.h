#pragma once

// JoiningService: lets devices in. The only service that answers a caller without a certificate.

#include <string>

#include "absl/status/statusor.h"

#include "broodpact/v1/joining_service.grpc.pb.h"
#include "client/device/clock.h"
#include "client/device/random.h"
#include "client/registry/subject.h"
#include "client/store/store.h"
#include "server/allowance.h"
#include "server/arrival_log.h"
#include "server/attempts.h"
#include "server/authority.h"
#include "server/callers.h"
#include "server/claim.h"
#include "server/log.h"
#include "server/nonces.h"
#include "server/rotations.h"

namespace broodpact::server {

// Thread-safe.
class JoiningService final : public v1::JoiningService::Service {
 public:
  // What the service works with; all of it outlives the service.
  struct Surroundings {
    const store::Store& store;
    ArrivalLog& arrival_log;
    const Authority& authority;
    const ClaimSecret& claim;
    const Callers& callers;
    Allowance& allowance;
    const device::Clock& clock;
    device::Randomness& randomness;
    const Log& log;
  };

  explicit JoiningService(const Surroundings& surroundings)
      : surroundings_(surroundings), nonces_(surroundings.randomness) {}

  grpc::Status Claim(grpc::ServerContext* context, const v1::ClaimRequest* request,
                     v1::ClaimResponse* response) override;
  grpc::Status Join(grpc::ServerContext* context, const v1::JoinRequest* request,
                    v1::JoinResponse* response) override;
  grpc::Status Challenge(grpc::ServerContext* context, const v1::ChallengeRequest* request,
                         v1::ChallengeResponse* response) override;
  grpc::Status Renew(grpc::ServerContext* context, const v1::RenewRequest* request,
                     v1::RenewResponse* response) override;

 private:
  absl::StatusOr<std::string> CertificateForSuccession(const v1::ClaimRequest& request);
  absl::StatusOr<std::string> CertificateForFounder(const v1::ClaimRequest& request);
  absl::StatusOr<std::string> CertificateForNewcomer(const v1::JoinRequest& request);
  absl::StatusOr<std::string> CertificateForMember(const v1::RenewRequest& request);

  // The key of a device that renews, and as which it is known: itself; or, of one that the registry
  // does not know, the one whose place it took, as the request proves.
  absl::StatusOr<Rotated> Renewing(const DeviceId& device, const v1::RenewRequest& request) const;

  // Whether a claim, or a joining, is looked into: while tries are left, and of those who have the
  // secret, or an invitation that is open, always.
  // Errors: those of Attempts::CheckOpen and of the store.
  absl::Status CheckMayClaim(const std::string& secret);
  absl::Status CheckMayJoin(const std::string& joining);

  absl::Status CheckSecret(const std::string& secret, const Hash& founding);
  absl::Status CheckInvitation(const Run& run);
  // Gives the invitation of `joining` its place, where the log lacks it. What cannot be taken is
  // left, and CheckInvitation says that it is missing.
  // Errors: those of Submission that are not about one commit.
  absl::Status TakeInviting(const v1::Push& inviting, const Run& joining);
  absl::StatusOr<Receipt> AwaitReceipt(Submission submission);
  absl::Status AwaitPlace(Submission submission);
  std::int64_t now_ms() const { return surroundings_.clock.NowMillis(); }

  const Surroundings surroundings_;
  // Apart, so that nobody who claims keeps those out who join.
  Attempts claims_;
  Attempts joinings_;
  Nonces nonces_;
};

}  // namespace broodpact::server
