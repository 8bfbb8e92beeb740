#include "server/rotations.h"

#include <algorithm>
#include <optional>
#include <variant>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/facts/membership.h"
#include "client/sync/joining.h"
#include "server/door.h"

namespace broodpact::server {
namespace {

const facts::KeyRotation* RotationIn(const facts::Commit& commit) {
  for (const facts::Statement& statement : commit.statements) {
    if (const auto* rotation = std::get_if<facts::KeyRotation>(&statement)) return rotation;
  }
  return nullptr;
}

absl::Status UnknownError(const DeviceId& device) {
  return Fail(
      absl::StatusCode::kUnauthenticated, "DEVICE_UNKNOWN",
      fmt::format("device {} is no member's; ask a registrar for an invitation", ToText(device)));
}

}  // namespace

absl::StatusOr<PublicKey> KeyByRotations(const Callers& callers, const Hash& cooperative,
                                         const DeviceId& device, const v1::RenewRequest& request) {
  std::optional<Sender> author;
  const int count = std::min(request.rotations_size(), static_cast<int>(sync::kRotationsMax));
  for (int i = 0; i < count; ++i) {
    const v1::SignedCommit& message = request.rotations(i);
    BP_ASSIGN_OR_RETURN(const facts::Commit commit, facts::ParseCommit(message.commit()));
    if (!author) {
      BP_ASSIGN_OR_RETURN(const Caller member, callers.Member(commit.header.device));
      author = {.cooperative = cooperative, .device = member.device, .key = member.key};
    }
    BP_RETURN_IF_ERROR(CheckRun({message.commit()}, message.signature(), *author).status());
    const facts::KeyRotation* rotation = RotationIn(commit);
    if (rotation == nullptr ||
        !VerifySignature(rotation->device_key, facts::RotationMessage(cooperative, author->device),
                         rotation->key_signature)) {
      return UnknownError(device);
    }
    author = {.cooperative = cooperative,
              .device = DeviceOf(rotation->device_key),
              .key = rotation->device_key};
  }
  if (!author || author->device != device) return UnknownError(device);
  return author->key;
}

}  // namespace broodpact::server
