#include "server/snapshot_writer.h"

#include <utility>

#include <fmt/format.h>

#include "broodpact/v1/snapshot_service.pb.h"
#include "client/base/status.h"
#include "client/device/private_file.h"
#include "client/registry/fold.h"
#include "client/replica/vouchers.h"
#include "client/store/state_digest.h"
#include "server/answer.h"

namespace broodpact::server {

std::filesystem::path PartFile(const std::filesystem::path& folder, std::size_t part) {
  return folder / fmt::format("part-{}", part);
}

absl::StatusOr<sync::SnapshotManifest> SnapshotWriter::Run(const store::Store& database,
                                                           const store::Pinned& pinned,
                                                           const Hash& cooperative) {
  manifest_ = {.cooperative = cooperative,
               .point = pinned.point(),
               .tree = pinned.tree(),
               .fold_version = registry::kFoldVersion,
               .state_digest = {},
               .heads_digest = {},
               .parts = {}};
  BP_RETURN_IF_ERROR(WriteVouchers(database, pinned.point().arrivals));
  std::string part;
  store::StateHasher heads;
  BP_RETURN_IF_ERROR(pinned.VisitHeads([&](std::string_view chain, std::string_view head) {
    heads.Add(chain, head);
    return AddTo(part, sync::PartKind::kHeads, chain, head);
  }));
  BP_RETURN_IF_ERROR(WritePart(part, sync::PartKind::kHeads));
  store::StateHasher subjects;
  BP_RETURN_IF_ERROR(pinned.VisitSubjects([&](std::string_view key, std::string_view value) {
    subjects.Add(key, value);
    return AddTo(part, sync::PartKind::kState, key, value);
  }));
  BP_RETURN_IF_ERROR(WritePart(part, sync::PartKind::kState));
  manifest_.heads_digest = heads.Finish();
  manifest_.state_digest = subjects.Finish();
  v1::SnapshotManifest message;
  sync::Write(manifest_, message);
  BP_RETURN_IF_ERROR(device::WritePrivateFile(folder_ / "manifest", message.SerializeAsString()));
  return std::move(manifest_);
}

absl::Status SnapshotWriter::WriteVouchers(const store::Store& database, std::uint64_t arrivals) {
  replica::VoucherPicker picker;
  const absl::Status picked = database.VisitArrivals(
      1, arrivals, [&](std::uint64_t arrival, const store::StoredArrival& stored) {
        const absl::Status goes_on = CheckGoesOn();
        return goes_on.ok() ? picker.Add(arrival, stored) : goes_on;
      });
  BP_RETURN_IF_ERROR(picked);
  for (std::string& part : std::move(picker).TakeParts()) {
    BP_RETURN_IF_ERROR(WritePart(part, sync::PartKind::kVouchers));
  }
  return absl::OkStatus();
}

absl::Status SnapshotWriter::AddTo(std::string& part, sync::PartKind kind, std::string_view key,
                                   std::string_view value) {
  constexpr std::size_t kLengthBytesMax = 10;
  const std::size_t size = key.size() + kLengthBytesMax + value.size();
  if (!part.empty() && part.size() + size > sync::kSnapshotPartBytesMax) {
    BP_RETURN_IF_ERROR(WritePart(part, kind));
  }
  sync::AppendEntry(part, key, value);
  return CheckGoesOn();
}

absl::Status SnapshotWriter::WritePart(std::string& part, sync::PartKind kind) {
  if (part.empty()) return absl::OkStatus();
  const std::size_t number = manifest_.parts.size();
  if (part.size() > sync::kSnapshotPartBytesMax || number == sync::kSnapshotPartsMax) {
    return Fail(absl::StatusCode::kResourceExhausted, "SNAPSHOT_TOO_LONG",
                "the state is too large for a snapshot");
  }
  const std::string packed = sync::PackPart(std::exchange(part, {}));
  BP_RETURN_IF_ERROR(device::WritePrivateFile(PartFile(folder_, number), packed));
  manifest_.parts.push_back(
      {.kind = kind, .packed_bytes = packed.size(), .sha256 = Sha256(packed)});
  return absl::OkStatus();
}

absl::Status SnapshotWriter::CheckGoesOn() const {
  return stopping_ ? StoppingError() : absl::OkStatus();
}

}  // namespace broodpact::server
