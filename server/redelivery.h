#pragma once

// Lets commits arrive that had arrived before the server lost them: the same checks at the door as
// for a push, run by run, in the order in which they once arrived. One that is not taken does not
// stop those after it.
//
// Anybody may bring commits this way that are new to every log. They are paid for as if they were
// pushed: out of the allowance of the device that brings them, whoever wrote them. What has its
// place, or is proved to have had one, costs nothing.

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/statusor.h"

#include "server/allowance.h"
#include "server/arrival_log.h"
#include "server/callers.h"
#include "server/door.h"

namespace broodpact::server {

class Redelivery {
 public:
  // Who brings the commits.
  struct Bringer {
    DeviceId device{};
    Allowance& allowance;  // outlives the redelivery
    std::int64_t now_ms = 0;
  };

  // Both outlive this.
  Redelivery(ArrivalLog& arrival_log, const Callers& callers, const Bringer& bringer)
      : arrival_log_(arrival_log), callers_(callers), bringer_(bringer) {}

  // `records` are whole runs, in the framing of facts/arrival.h. The first `proven` of them keep
  // the time at which they first arrived, if it is earlier. Blocks until all is durable.
  // Errors: INVALID_ARGUMENT with reason RECORD_FORM; RESOURCE_EXHAUSTED with reason
  // PUSHED_TOO_MUCH; those of Submission that are not about one commit. What was delivered until
  // then stays, and is paid for; nothing else is.
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
  // A run that waits for its place.
  struct Waiting {
    std::uint32_t first_at = 0;
    std::uint32_t count = 0;
    std::int64_t fresh_bytes = 0;  // of what is to be paid for
  };

  absl::Status Take(const Letter& letter);
  // The run of a letter, once its author is known.
  absl::StatusOr<Run> CheckedRun(const Letter& letter) const;
  // The bytes of a run that never arrived, as far as is known here, and of the signature for them.
  absl::StatusOr<std::int64_t> FreshBytesOf(const Run& run) const;
  // Pays for what was taken, and waits until it is in the log.
  absl::Status Flush();
  absl::Status Pay(const std::vector<Waiting>& runs) const;
  // Has back what was paid for runs of which nothing has arrived by this.
  void Refund(const std::vector<Waiting>& runs,
              const std::vector<absl::StatusOr<Receipt>>& receipts) const;
  void Refuse(std::uint32_t first_at, std::size_t count);

  ArrivalLog& arrival_log_;
  const Callers& callers_;
  const Bringer bringer_;
  std::vector<Submission> submissions_;
  std::vector<Waiting> waiting_;  // one a submission
  std::uint32_t read_ = 0;
  std::uint32_t arrived_ = 0;
  std::uint32_t known_ = 0;
  std::vector<std::uint32_t> refused_at_;
};

}  // namespace broodpact::server
