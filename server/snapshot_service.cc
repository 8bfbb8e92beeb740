#include "server/snapshot_service.h"

#include <set>
#include <string>

#include "client/base/status.h"
#include "client/sync/head.h"
#include "server/answer.h"

namespace broodpact::server {

bool SnapshotService::IsAttestedByEnough(const Snapshots::Kept& kept) const {
  std::set<KeeperId> keepers;
  for (const sync::Attestation& one : kept.attestations) {
    const absl::StatusOr<Caller> member = callers_.Member(one.device);
    if (member.ok()) keepers.insert(member->keeper);
  }
  return keepers.size() >= sync::kAttestingKeepersMin;
}

absl::StatusOr<Snapshots::Kept> SnapshotService::Best() const {
  const std::vector<Snapshots::Kept> all = snapshots_.All();
  for (const Snapshots::Kept& kept : all) {
    if (IsAttestedByEnough(kept)) return kept;
  }
  if (!all.empty()) return all.front();
  return Fail(absl::StatusCode::kNotFound, "SNAPSHOT_NONE",
              "the server has no snapshot yet; sync fetches the whole log");
}

grpc::Status SnapshotService::Offer(grpc::ServerContext* context, const v1::OfferRequest* request,
                                    v1::OfferResponse* response) {
  return AnswerMember(*context, callers_, [&](const Caller&) -> absl::Status {
    BP_ASSIGN_OR_RETURN(const Snapshots::Kept kept,
                        request->arrivals() == 0 ? Best() : snapshots_.At(request->arrivals()));
    BP_ASSIGN_OR_RETURN(const sync::Head head, arrival_log_.HeadAt(kept.manifest.point.arrivals));
    sync::Write(kept.manifest, *response->mutable_manifest());
    sync::Write(head, *response->mutable_head());
    for (const sync::Attestation& one : kept.attestations) {
      sync::Write(one, *response->add_attestations());
    }
    return absl::OkStatus();
  });
}

grpc::Status SnapshotService::Fetch(grpc::ServerContext* context, const v1::FetchRequest* request,
                                    v1::FetchResponse* response) {
  return AnswerMember(*context, callers_, [&](const Caller&) -> absl::Status {
    BP_ASSIGN_OR_RETURN(
        *response->mutable_data(),
        snapshots_.ReadSlice(request->arrivals(), request->part(), request->offset()));
    return absl::OkStatus();
  });
}

grpc::Status SnapshotService::Attest(grpc::ServerContext* context, const v1::AttestRequest* request,
                                     v1::AttestResponse*) {
  return AnswerMember(*context, callers_, [&](const Caller& caller) -> absl::Status {
    const std::optional<Signature> signature = SignatureOfBytes(request->signature());
    const std::optional<Hash> root = HashOfBytes(request->state_root());
    if (!signature || !root) {
      return Fail(absl::StatusCode::kPermissionDenied, "ATTESTATION_SIGNATURE_BAD",
                  "the attestation has a root or a signature of another length");
    }
    return snapshots_.Attest(caller, request->arrivals(), *root, *signature);
  });
}

}  // namespace broodpact::server
