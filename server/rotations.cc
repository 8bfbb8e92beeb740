#include "server/rotations.h"

#include <algorithm>
#include <string>
#include <string_view>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/facts/stated.h"
#include "client/sync/joining.h"
#include "server/door.h"

namespace broodpact::server {
namespace {

// Small values of the store: by the one device the other one, 16 bytes.
std::string FromName(const DeviceId& to) {
  return "rotated-from/" + ToText(to);
}
std::string ToName(const DeviceId& from) {
  return "rotated-to/" + ToText(from);
}

// The one that takes the author's place by a commit, if it agrees to it.
absl::StatusOr<Sender> SuccessorOf(const Sender& author, const v1::SignedCommit& message) {
  BP_ASSIGN_OR_RETURN(const Run run, CheckRun({message.commit()}, message.signature(), author));
  const facts::KeyRotation* rotation = facts::RotationIn(run.commits.front());
  if (rotation == nullptr ||
      !VerifySignature(rotation->device_key,
                       facts::RotationMessage(author.cooperative, author.device),
                       rotation->key_signature)) {
    return UnknownDeviceError(author.device);
  }
  return Sender{.cooperative = author.cooperative,
                .device = DeviceOf(rotation->device_key),
                .key = rotation->device_key};
}

}  // namespace

absl::StatusOr<Rotated> FollowRotations(const Callers& callers, const Hash& cooperative,
                                        const DeviceId& device, const v1::RenewRequest& request) {
  DeviceId from;
  std::optional<Sender> author;
  absl::Status refusal = UnknownDeviceError(device);
  const int count = std::min(request.rotations_size(), static_cast<int>(sync::kRotationsMax));
  for (int i = 0; i < count; ++i) {
    const v1::SignedCommit& message = request.rotations(i);
    if (!author) {
      BP_ASSIGN_OR_RETURN(const facts::Commit commit, facts::ParseCommit(message.commit()));
      const absl::StatusOr<Caller> member = callers.Member(commit.header.device);
      // One whose own rotation has arrived is none any more.
      if (!member.ok()) {
        refusal = member.status();
        continue;
      }
      author = {.cooperative = cooperative, .device = member->device, .key = member->key};
      from = member->device;
    }
    BP_ASSIGN_OR_RETURN(author, SuccessorOf(*author, message));
  }
  if (!author) return refusal;
  if (author->device != device) return UnknownDeviceError(device);
  return Rotated{.from = from, .key = author->key};
}

absl::Status KeepRotation(store::Store& store, const DeviceId& from, const DeviceId& to) {
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> kept, store.Meta(ToName(from)));
  if (kept && *kept == ViewOf(to.bytes)) return absl::OkStatus();
  if (kept) {
    return Fail(absl::StatusCode::kPermissionDenied, "DEVICE_REPLACED",
                fmt::format("another key took the place of device {} already; go on in the folder "
                            "that has it",
                            ToShortText(from)));
  }
  // The way back first: without it the other one says nothing.
  BP_RETURN_IF_ERROR(store.PutMeta(FromName(to), ViewOf(from.bytes)));
  return store.PutMeta(ToName(from), ViewOf(to.bytes));
}

absl::StatusOr<std::optional<DeviceId>> ReadRotatedFrom(const store::Store& store,
                                                        const DeviceId& device) {
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> kept, store.Meta(FromName(device)));
  const std::optional<IdBytes> id = kept ? IdOfBytes(*kept) : std::nullopt;
  return id ? std::optional<DeviceId>(DeviceId{*id}) : std::nullopt;
}

}  // namespace broodpact::server
