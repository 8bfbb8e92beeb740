#pragma once

// Whose devices are members', as the vouchers of a snapshot have it (replica/vouchers.h).

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "absl/status/statusor.h"

#include "client/registry/state.h"
#include "client/replica/internal/map_source.h"

namespace broodpact::replica {

// The members' devices, as vouchers have it.
class VouchedDevices {
 public:
  explicit VouchedDevices(const Hash& cooperative) : cooperative_(cooperative), state_(source_) {}

  // Reads a part: checks hashes, chains within runs and signatures, and folds what it says of
  // membership. Parts come in their order.
  // Errors: DATA_LOSS with reason VOUCHERS_FORM; those of facts::CheckRange.
  absl::Status Add(std::string_view part);

  // A device, if it is a member's and was not cut off.
  absl::StatusOr<std::optional<registry::Device>> Active(const DeviceId& device) const;
  absl::StatusOr<std::string> NameOf(const KeeperId& keeper) const;

 private:
  absl::Status AddRun(std::uint64_t arrivals_before, std::string_view records);

  Hash cooperative_;
  MapSource source_;
  registry::State state_;
  std::uint64_t last_ = 0;  // the newest arrival so far
};

}  // namespace broodpact::replica
