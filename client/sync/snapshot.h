#pragma once

// A snapshot as a server offers it: what it is of, its parts, and who attests it.

#include <cstdint>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "absl/status/statusor.h"

#include "client/base/hash.h"
#include "client/base/id.h"
#include "client/base/merkle.h"
#include "client/base/signature.h"
#include "client/facts/arrival.h"
#include "client/sync/head.h"

namespace broodpact::v1 {
class OfferResponse;
class SnapshotAttestation;
class SnapshotManifest;
}  // namespace broodpact::v1

namespace broodpact::sync {

// Bounds of a snapshot: a part unpacked, its parts, who attests it, and a slice that is sent.
inline constexpr std::size_t kSnapshotPartBytesMax = 4'194'304;
inline constexpr std::size_t kSnapshotPartsMax = 4'096;
inline constexpr std::size_t kAttestationsMax = 64;
inline constexpr std::size_t kSnapshotSliceBytesMax = 1'048'576;

// Of so many different keepers' devices have to attest a snapshot that somebody starts from. Fewer
// could be one keeper with a friend and a server; more, and a small cooperative would never have
// one.
inline constexpr std::size_t kAttestingKeepersMin = 3;

enum class PartKind { kState, kHeads, kVouchers };

struct SnapshotPart {
  PartKind kind = PartKind::kState;
  std::uint64_t packed_bytes = 0;
  Hash sha256{};  // of the packed bytes

  friend bool operator==(const SnapshotPart&, const SnapshotPart&) = default;
};

struct SnapshotManifest {
  Hash cooperative{};
  facts::LogPoint point{};
  MerkleFrontier tree{};  // over the arrivals up to there
  std::uint32_t fold_version = 0;
  Hash state_digest{};
  Hash heads_digest{};
  std::vector<SnapshotPart> parts{};
};

// A device's word that it has folded the log to a state. Its signature is not verified yet.
struct Attestation {
  DeviceId device{};
  Signature signature{};

  friend bool operator==(const Attestation&, const Attestation&) = default;
};

struct SnapshotOffer {
  SnapshotManifest manifest;
  Head head;  // of the server's log up to there; its signature has been verified
  std::vector<Attestation> attestations;
};

// The bytes that a device signs for a state; `root` is the one of store/state_root.h.
std::string AttestationMessage(const Hash& cooperative, const facts::LogPoint& point,
                               const Hash& root);

void Write(const SnapshotManifest& manifest, v1::SnapshotManifest& message);
void Write(const Attestation& attestation, v1::SnapshotAttestation& message);

// Errors: INVALID_ARGUMENT with reason SNAPSHOT_FORM.
absl::StatusOr<SnapshotManifest> ReadManifest(const v1::SnapshotManifest& message);
absl::StatusOr<Attestation> ReadAttestation(const v1::SnapshotAttestation& message);

// Errors: those of ReadManifest; HEAD_SIGNATURE_BAD.
absl::StatusOr<SnapshotOffer> ReadOffer(const v1::OfferResponse& message, const Hash& cooperative);

// Entries of a part of state or heads, one after the other: key, length of the value (varint),
// value.
void AppendEntry(std::string& part, std::string_view key, std::string_view value);

// Reads the entries of a part, whose keys have `key_size` bytes. Views of `part`.
// Errors: DATA_LOSS with reason SNAPSHOT_FORM.
using SnapshotEntries = std::vector<std::pair<std::string_view, std::string_view>>;
absl::StatusOr<SnapshotEntries> ReadEntries(std::string_view part, std::size_t key_size);

// A part as it is sent, and back: within its bounds, and not checked against its hash.
std::string PackPart(std::string_view part);
// Errors: DATA_LOSS with reason SNAPSHOT_FORM.
absl::StatusOr<std::string> UnpackPart(std::string_view packed);

}  // namespace broodpact::sync
