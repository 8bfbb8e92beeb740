#pragma once

// A range of the arrival log, checked before any of it is believed: hashes, chains, and one
// signature a chain, which vouches for the run before it.

#include <cstdint>
#include <functional>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/statusor.h"

#include "client/facts/arrival.h"
#include "client/facts/chain.h"

namespace broodpact::facts {

// Arrivals in order, read and hashed, not yet vouched for.
struct Range {
  LogPoint before{};
  LogPoint after{};
  std::vector<Arrived> arrivals{};
  std::vector<std::string> bytes{};                    // of each commit
  std::vector<std::optional<Signature>> signatures{};  // as they came, one an arrival
  std::vector<Hash> log_hashes{};                      // H after each arrival

  bool empty() const { return arrivals.empty(); }
};

// Reads records (arrival.h) onto the end of `range`, which begins at `range.before`.
// Errors: those of ArrivalReader and ParseCommit, with the arrival number; DATA_LOSS with reason
// LOG_ORDER if an arrival time goes back. `range` is then worthless.
absl::Status ReadOnto(Range& range, std::string_view records);

// Takes the arrivals up to `arrivals` off the front of a range, which reaches beyond them, and
// returns them as a range.
Range CutOff(Range& range, std::uint64_t arrivals);

// What the checker has to know of what came before the range.
struct RangeContext {
  // The head of a chain before the range; seq 0 where there is none.
  std::function<absl::StatusOr<ChainHead>(const ChainId&)> head_of;
  // A device's key, where it is known from before the range. The range itself may bring it, in a
  // Founding, a Joining or a KeyRotation: a device's id is the hash of its key, so any key that
  // fits is the right one.
  std::function<absl::StatusOr<std::optional<PublicKey>>(const DeviceId&)> key_of;
  Hash cooperative{};
};

// Checks a whole range: every commit is of this cooperative (the founding commit, at arrival 1, has
// its hash as id) and follows on the head of its chain; the last commit of every chain in it
// carries a good signature. One signature is verified a chain.
//
// Returns the chain heads after the range.
//
// Errors: PERMISSION_DENIED with reason COOPERATIVE_OTHER, SIGNATURE_MISSING, SIGNATURE_BAD or
// DEVICE_UNKNOWN; FAILED_PRECONDITION with those of CheckFollows. The message names the arrival.
absl::StatusOr<std::map<ChainId, ChainHead>> CheckRange(const Range& range,
                                                        const RangeContext& context);

}  // namespace broodpact::facts
