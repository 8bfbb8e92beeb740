#pragma once

// What a server does to have back what it lost: from an old backup, or by a disk that forgot.
//
// It signs every head that it gives out, so whoever holds one can show it up to where its log once
// reached. What follows its present end, and leads to such a head, goes back to its place. Where
// the log has gone on otherwise meanwhile, the server says so by a new epoch, and what was lost
// arrives again.

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/statusor.h"

#include "broodpact/v1/recovery_service.pb.h"
#include "client/base/signature.h"
#include "client/store/store.h"
#include "client/sync/server_code.h"
#include "server/allowance.h"
#include "server/arrival_log.h"
#include "server/callers.h"
#include "server/log.h"

namespace broodpact::server {

// Thread-safe. The methods are those of RecoveryService, for a caller who may call them.
class Recovery {
 public:
  // All of it outlives this.
  struct Surroundings {
    const store::Store& store;
    ArrivalLog& arrival_log;
    const Callers& callers;
    const Log& log;
    Allowance& allowance;  // of devices that bring what is new
    PublicKey log_key{};   // whose heads it believes
  };

  explicit Recovery(const Surroundings& surroundings) : surroundings_(surroundings) {}

  absl::Status Compare(const v1::CompareRequest& request, v1::CompareResponse& response) const;
  // As `caller` says: the head of a server that is not of this log counts by a registrar's word.
  absl::Status ReportLoss(const DeviceId& caller, const v1::ReportLossRequest& request,
                          v1::ReportLossResponse& response) const;
  absl::Status GiveBack(const v1::GiveBackRequest& request, v1::GiveBackResponse& response) const;
  // As `caller` says: the head that proves first times counts as one that tells of a loss does; and
  // what never arrived before is paid for out of the allowance of that device (redelivery.h).
  absl::Status DeliverAgain(const DeviceId& caller, const v1::DeliverAgainRequest& request,
                            v1::DeliverAgainResponse& response) const;

 private:
  // Whether that is the key of this server, of the one before it, or of one in `left`.
  bool IsKnown(const PublicKey& server_key, const std::vector<PublicKey>& left) const;
  // Whether a registrar of this cooperative has signed the code.
  absl::StatusOr<bool> IsRegistrarsWord(const sync::ServerCode& code) const;
  // Notes the servers that a caller was led to by registrars: his heads count then, as if they had
  // shown them.
  absl::Status TakeServerCodes(const v1::CompareRequest& request) const;
  // Takes back what this server has forgotten of its losses, and over what those before it told of
  // theirs.
  absl::Status TakeEpochs(sync::Epochs told) const;
  // Whether the log is the same at a place.
  absl::StatusOr<bool> IsOurs(const facts::LogPoint& place) const;
  absl::StatusOr<facts::LogPoint> CommonPlace(const v1::LogPlace& place) const;
  // Whether a head may tell of a loss: of this server, or the one before it; or a registrar shows
  // it, or has shown one by that key before, or led somebody there. Anybody can sign heads with a
  // key made up for it. Errors: INVALID_ARGUMENT with reason HEAD_OTHER.
  absl::Status CheckWitness(const DeviceId& caller, const sync::Head& head) const;
  // How many of the records, from the first on, are proved to have arrived before.
  absl::StatusOr<std::uint64_t> ProvenIn(const DeviceId& caller,
                                         const v1::DeliverAgainRequest& request,
                                         std::string_view records) const;
  // A head that a server of this cooperative may have signed.
  absl::StatusOr<sync::Head> HeadIn(const v1::SignedHead& message) const;
  // Proves that `range`, which follows on this log, leads to `head`.
  absl::Status CheckLeadsTo(const facts::Range& range, const sync::Head& head,
                            const std::vector<Hash>& proof) const;

  Surroundings surroundings_;
};

}  // namespace broodpact::server
