#pragma once

// Lets commits arrive that had arrived before the server lost them: the same checks at the door as
// for a push, run by run, in the order in which they once arrived. One that is not taken does not
// stop those after it.

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/status.h"

#include "server/arrival_log.h"
#include "server/callers.h"
#include "server/door.h"

namespace broodpact::server {

class Redelivery {
 public:
  // Both outlive this.
  Redelivery(ArrivalLog& arrival_log, const Callers& callers)
      : arrival_log_(arrival_log), callers_(callers) {}

  // `records` are whole runs, in the framing of facts/arrival.h. The first `proven` of them keep
  // the time at which they first arrived, if it is earlier. Blocks until all is durable.
  // Errors: INVALID_ARGUMENT with reason RECORD_FORM; those of Submission that are not about one
  // commit. What was delivered until then stays.
  absl::Status Deliver(std::string_view records, std::uint64_t proven);

  std::uint32_t arrived() const { return arrived_; }
  std::uint32_t known() const { return known_; }
  std::uint32_t refused() const { return static_cast<std::uint32_t>(refused_at_.size()); }
  // Their places in what was delivered, counted from 0, ascending.
  std::vector<std::uint32_t> refused_at() const;

 private:
  // A run as it was read.
  struct Letter {
    std::uint32_t first_at = 0;  // the place of its first commit
    DeviceId device;
    std::vector<std::string> commits;
    std::vector<std::optional<std::int64_t>> first_times_ms;  // of each, where it is proved
    std::string signature;
  };

  absl::Status Take(const Letter& letter);
  // The run of a letter, once its author is known.
  absl::StatusOr<Run> CheckedRun(const Letter& letter) const;
  // Waits until what was taken is in the log.
  absl::Status Flush();
  void Refuse(std::uint32_t first_at, std::size_t count);

  ArrivalLog& arrival_log_;
  const Callers& callers_;
  std::vector<Submission> waiting_;
  std::vector<std::uint32_t> waiting_at_;  // of each, the place of its first commit
  std::uint32_t read_ = 0;
  std::uint32_t arrived_ = 0;
  std::uint32_t known_ = 0;
  std::vector<std::uint32_t> refused_at_;
};

}  // namespace broodpact::server
