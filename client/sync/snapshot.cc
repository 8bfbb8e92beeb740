#include "client/sync/snapshot.h"

#include <optional>

#include "absl/status/status.h"
#include <fmt/format.h>

#include "broodpact/v1/snapshot_service.pb.h"
#include "client/base/bytes.h"
#include "client/base/status.h"
#include "client/sync/chunk.h"
#include "client/sync/session.h"

namespace broodpact::sync {
namespace {

static_assert(kSnapshotPartBytesMax <= kChunkBytesMax, "parts are packed as log chunks are");

absl::Status OfferFormError(std::string_view what) {
  return Fail(absl::StatusCode::kInvalidArgument, "SNAPSHOT_FORM",
              fmt::format("the server offers a snapshot that is malformed: {}", what));
}

absl::Status PartFormError() {
  return Fail(absl::StatusCode::kDataLoss, "SNAPSHOT_FORM",
              "a part of the server's snapshot is damaged");
}

v1::SnapshotPartKind KindOf(PartKind kind) {
  switch (kind) {
    case PartKind::kState:
      return v1::SNAPSHOT_PART_KIND_STATE;
    case PartKind::kHeads:
      return v1::SNAPSHOT_PART_KIND_HEADS;
    case PartKind::kVouchers:
      return v1::SNAPSHOT_PART_KIND_VOUCHERS;
  }
  return v1::SNAPSHOT_PART_KIND_UNSPECIFIED;
}

std::optional<PartKind> KindOf(v1::SnapshotPartKind kind) {
  switch (kind) {
    case v1::SNAPSHOT_PART_KIND_STATE:
      return PartKind::kState;
    case v1::SNAPSHOT_PART_KIND_HEADS:
      return PartKind::kHeads;
    case v1::SNAPSHOT_PART_KIND_VOUCHERS:
      return PartKind::kVouchers;
    default:
      return std::nullopt;
  }
}

absl::StatusOr<SnapshotPart> ReadPart(const v1::SnapshotPart& message) {
  const std::optional<PartKind> kind = KindOf(message.kind());
  const std::optional<Hash> sha256 = HashOfBytes(message.sha256());
  // What zstd cannot pack grows by less than a hundredth.
  const bool fits = message.packed_bytes() > 0 &&
                    message.packed_bytes() <= kSnapshotPartBytesMax + kSnapshotPartBytesMax / 100;
  if (!kind || !sha256 || !fits) return OfferFormError("a part");
  return SnapshotPart{.kind = *kind, .packed_bytes = message.packed_bytes(), .sha256 = *sha256};
}

}  // namespace

std::string AttestationMessage(const Hash& cooperative, const facts::LogPoint& point,
                               const Hash& root) {
  using namespace std::string_literals;
  std::string message = "broodpact snapshot attestation v1\0"s;
  message.append(ViewOf(cooperative));
  for (int shift = 56; shift >= 0; shift -= 8) {
    message.push_back(static_cast<char>((point.arrivals >> shift) & 0xFFU));
  }
  message.append(ViewOf(point.log_hash));
  message.append(ViewOf(root));
  return message;
}

void Write(const SnapshotManifest& manifest, v1::SnapshotManifest& message) {
  message.set_cooperative_id(std::string(ViewOf(manifest.cooperative)));
  message.set_arrivals(manifest.point.arrivals);
  message.set_log_hash(std::string(ViewOf(manifest.point.log_hash)));
  message.set_tree_frontier(manifest.tree.Encode());
  message.set_fold_version(manifest.fold_version);
  message.set_state_digest(std::string(ViewOf(manifest.state_digest)));
  message.set_heads_digest(std::string(ViewOf(manifest.heads_digest)));
  for (const SnapshotPart& part : manifest.parts) {
    v1::SnapshotPart& added = *message.add_parts();
    added.set_kind(KindOf(part.kind));
    added.set_packed_bytes(part.packed_bytes);
    added.set_sha256(std::string(ViewOf(part.sha256)));
  }
}

void Write(const Attestation& attestation, v1::SnapshotAttestation& message) {
  message.set_device_id(std::string(ViewOf(attestation.device.bytes)));
  message.set_signature(std::string(ViewOf(attestation.signature)));
}

absl::StatusOr<SnapshotManifest> ReadManifest(const v1::SnapshotManifest& message) {
  const std::optional<Hash> cooperative = HashOfBytes(message.cooperative_id());
  const std::optional<Hash> log_hash = HashOfBytes(message.log_hash());
  const std::optional<Hash> state = HashOfBytes(message.state_digest());
  const std::optional<Hash> heads = HashOfBytes(message.heads_digest());
  const absl::StatusOr<MerkleFrontier> tree = MerkleFrontier::Decode(message.tree_frontier());
  if (!cooperative || !log_hash || !state || !heads) return OfferFormError("a hash");
  if (!tree.ok() || message.arrivals() == 0 || tree->size() != message.arrivals()) {
    return OfferFormError("its place in the log");
  }
  if (static_cast<std::size_t>(message.parts_size()) > kSnapshotPartsMax) {
    return OfferFormError("it has too many parts");
  }
  SnapshotManifest manifest{.cooperative = *cooperative,
                            .point = {.arrivals = message.arrivals(), .log_hash = *log_hash},
                            .tree = *tree,
                            .fold_version = message.fold_version(),
                            .state_digest = *state,
                            .heads_digest = *heads,
                            .parts = {}};
  for (const v1::SnapshotPart& part : message.parts()) {
    BP_ASSIGN_OR_RETURN(manifest.parts.emplace_back(), ReadPart(part));
  }
  return manifest;
}

absl::StatusOr<Attestation> ReadAttestation(const v1::SnapshotAttestation& message) {
  const std::optional<IdBytes> device = IdOfBytes(message.device_id());
  const std::optional<Signature> signature = SignatureOfBytes(message.signature());
  if (!device || !signature) return OfferFormError("an attestation");
  return Attestation{.device = DeviceId{*device}, .signature = *signature};
}

absl::StatusOr<SnapshotOffer> ReadOffer(const v1::OfferResponse& message, const Hash& cooperative) {
  SnapshotOffer offer;
  BP_ASSIGN_OR_RETURN(offer.manifest, ReadManifest(message.manifest()));
  BP_ASSIGN_OR_RETURN(offer.head, ReadHead(message.head(), cooperative));
  if (static_cast<std::size_t>(message.attestations_size()) > kAttestationsMax) {
    return OfferFormError("it has too many attestations");
  }
  for (const v1::SnapshotAttestation& attestation : message.attestations()) {
    BP_ASSIGN_OR_RETURN(offer.attestations.emplace_back(), ReadAttestation(attestation));
  }
  return offer;
}

void AppendEntry(std::string& part, std::string_view key, std::string_view value) {
  ByteWriter writer(part);
  writer.Raw(key);
  writer.Text(value);
}

absl::StatusOr<SnapshotEntries> ReadEntries(std::string_view part, std::size_t key_size) {
  SnapshotEntries entries;
  ByteReader reader(part);
  while (reader.ok() && !reader.at_end()) {
    const std::string_view key = reader.Raw(key_size);
    const std::string_view value = reader.Text();
    if (reader.ok()) entries.emplace_back(key, value);
  }
  if (!reader.ok()) return PartFormError();
  return entries;
}

std::string PackPart(std::string_view part) {
  return PackRecords(part);
}

absl::StatusOr<std::string> UnpackPart(std::string_view packed) {
  absl::StatusOr<std::string> part = UnpackRecords(packed);
  if (!part.ok()) return PartFormError();
  return part;
}

}  // namespace broodpact::sync
