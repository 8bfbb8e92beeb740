#include "server/log_hashes.h"

#include <algorithm>
#include <optional>
#include <string>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/sync/session.h"

namespace broodpact::server {
namespace {

std::string NameOf(std::uint64_t arrivals) {
  return fmt::format("h/{:016x}", arrivals);
}

// The newest checkpoint at or before `arrivals`.
absl::StatusOr<facts::LogPoint> CheckpointBefore(const store::Store& store, const Hash& cooperative,
                                                 std::uint64_t arrivals) {
  for (std::uint64_t at = arrivals - arrivals % kCheckpointArrivals; at > 0;
       at -= kCheckpointArrivals) {
    BP_ASSIGN_OR_RETURN(const std::optional<std::string> bytes, store.Meta(NameOf(at)));
    if (!bytes.has_value()) continue;
    const std::optional<Hash> hash = HashOfBytes(*bytes);
    if (hash.has_value()) return facts::LogPoint{.arrivals = at, .log_hash = *hash};
  }
  return facts::LogPoint{.arrivals = 0, .log_hash = cooperative};
}

}  // namespace

absl::StatusOr<Hash> LogHashAt(const store::Store& store, const Hash& cooperative,
                               std::uint64_t arrivals) {
  const facts::LogPoint end = store.point();
  if (arrivals == end.arrivals) return end.log_hash;
  if (arrivals > end.arrivals) {
    return Fail(absl::StatusCode::kOutOfRange, "LOG_SHORT",
                fmt::format("the log has {} arrivals, not {}", end.arrivals, arrivals));
  }
  BP_ASSIGN_OR_RETURN(facts::LogPoint point, CheckpointBefore(store, cooperative, arrivals));
  while (point.arrivals < arrivals) {
    BP_ASSIGN_OR_RETURN(const store::LogSlice slice,
                        store.ReadLog(point.arrivals, sync::kChunkBytesTarget));
    if (slice.count == 0) {
      return Fail(absl::StatusCode::kDataLoss, "STORE_DAMAGED",
                  fmt::format("arrival {} is missing in the log; verify this server's replica",
                              point.arrivals + 1));
    }
    facts::ArrivalReader reader(slice.records);
    while (!reader.at_end() && point.arrivals < arrivals) {
      BP_ASSIGN_OR_RETURN(const facts::ArrivalView arrival, reader.Next());
      point.log_hash = facts::NextLogHash(point.log_hash, Sha256(arrival.commit), arrival.time_ms);
      ++point.arrivals;
    }
  }
  return point.log_hash;
}

absl::Status KeepLogHashes(store::Store& store, const facts::Range& range) {
  if (range.before.arrivals / kCheckpointArrivals == range.after.arrivals / kCheckpointArrivals) {
    return absl::OkStatus();
  }
  Hash log_hash = range.before.log_hash;
  for (const facts::Arrived& arrived : range.arrivals) {
    log_hash = facts::NextLogHash(log_hash, arrived.commit.hash, arrived.time_ms);
    if (arrived.arrival % kCheckpointArrivals == 0) {
      BP_RETURN_IF_ERROR(store.PutMeta(NameOf(arrived.arrival), ViewOf(log_hash)));
    }
  }
  return absl::OkStatus();
}

}  // namespace broodpact::server
