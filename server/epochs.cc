#include "server/epochs.h"

#include <optional>
#include <string>
#include <utility>

#include "client/base/status.h"

namespace broodpact::server {

absl::StatusOr<sync::Epochs> ReadEpochs(const store::Store& store) {
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> bytes, store.Meta(kEpochsName));
  if (!bytes) return sync::Epochs();
  std::optional<sync::Epochs> epochs = sync::DecodeEpochs(*bytes);
  if (epochs) return *std::move(epochs);
  return Fail(absl::StatusCode::kDataLoss, "STORE_DAMAGED",
              "the epochs of this server's log cannot be read; put its folder back from a backup");
}

std::uint32_t PresentEpoch(const sync::Epochs& epochs) {
  return epochs.empty() ? facts::kFirstEpoch : epochs.back().epoch;
}

}  // namespace broodpact::server
