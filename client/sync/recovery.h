#pragma once

// Gives a server back what it has lost: the calls of RecoveryService, as a client makes them.

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "absl/status/statusor.h"

#include "client/base/hash.h"
#include "client/facts/arrival.h"
#include "client/sync/connection.h"
#include "client/sync/epoch.h"
#include "client/sync/first_times.h"
#include "client/sync/head.h"

namespace broodpact::v1 {
class CompareRequest;
class CompareResponse;
class ReportLossRequest;
class ReportLossResponse;
class GiveBackRequest;
class GiveBackResponse;
class DeliverAgainRequest;
class DeliverAgainResponse;
}  // namespace broodpact::v1

namespace broodpact::sync {

// Places of one Compare at most.
inline constexpr std::size_t kComparePlacesMax = 64;

// A part of the log in the framing of facts/arrival.h: whole runs.
struct LogPart {
  std::uint64_t arrivals_before = 0;
  std::string records{};
};

// Codes of servers that a replica keeps, and shows.
inline constexpr std::size_t kServerCodesMax = 8;

// What a replica remembers of the servers that it was at.
struct Remembered {
  Epochs epochs{};
  // By which it was led there (server_code.h), at most kServerCodesMax.
  std::vector<std::string> server_codes{};
};

// How far a server's log is the same as another one.
struct Comparison {
  std::size_t matching = 0;           // of the places, from the first one on
  Head head;                          // of the server's log
  Epochs epochs;                      // those that began with a loss
  std::optional<Head> matching_head;  // of its log up to the last place that matches
};

// What became of commits that were to arrive again.
struct Redelivery {
  std::uint64_t arrived = 0;
  std::uint64_t known = 0;                  // had arrived before
  std::uint64_t refused = 0;                // the server does not take them
  std::vector<std::uint32_t> refused_at{};  // their places in the part, counted from 0
};

// One server, to be given back what it lost. Every call blocks, and promises what the method of the
// same name does (recovery_service.proto); signatures in the answers have been verified.
// Errors of all: SERVER_AWAY and the server's own; HEAD_SIGNATURE_BAD; EPOCH_SIGNATURE_BAD.
class Recovery {
 public:
  virtual ~Recovery() = default;

  // `places` are ascending, 1 to kComparePlacesMax.
  virtual absl::StatusOr<Comparison> Compare(const std::vector<facts::LogPoint>& places,
                                             const Remembered& remembered) = 0;
  virtual absl::StatusOr<Epochs> ReportLoss(const Head& head, const facts::LogPoint& common) = 0;
  virtual absl::Status GiveBack(const LogPart& part, const Head& head,
                                const std::vector<Hash>& proof) = 0;
  // With the first times of the part, as far as they can be proved; nothing: it arrives as new.
  virtual absl::StatusOr<Redelivery> DeliverAgain(const LogPart& part,
                                                  const std::optional<FirstTimes>& times) = 0;
};

// How the messages get there and back: by gRPC, or over a simulated network.
class RecoveryWay {
 public:
  virtual ~RecoveryWay() = default;
  virtual absl::Status Compare(const v1::CompareRequest& request,
                               v1::CompareResponse& response) = 0;
  virtual absl::Status ReportLoss(const v1::ReportLossRequest& request,
                                  v1::ReportLossResponse& response) = 0;
  virtual absl::Status GiveBack(const v1::GiveBackRequest& request,
                                v1::GiveBackResponse& response) = 0;
  virtual absl::Status DeliverAgain(const v1::DeliverAgainRequest& request,
                                    v1::DeliverAgainResponse& response) = 0;
};

// As DeliverAgain; where the server does not believe the proof, and so has taken nothing, they
// arrive as new: that is better than not. One that has not been told of the loss, or has forgotten
// it, is to be told first: INVALID_ARGUMENT with reason LOSS_UNTOLD.
absl::StatusOr<Redelivery> DeliverWithTimes(Recovery& server, const LogPart& part,
                                            const std::optional<FirstTimes>& times);

std::unique_ptr<Recovery> RecoveryBy(std::unique_ptr<RecoveryWay> way, const Hash& cooperative);

// Over gRPC. Does not block.
// Errors: those of Connect.
absl::StatusOr<std::unique_ptr<Recovery>> OpenRecovery(const Credentials& credentials,
                                                       const Hash& cooperative,
                                                       std::int64_t now_ms);

}  // namespace broodpact::sync
