#include "client/replica/internal/snapshot_start.h"

#include <algorithm>
#include <set>
#include <utility>

#include <fmt/format.h>

#include "client/base/bytes.h"
#include "client/base/status.h"
#include "client/registry/fold.h"
#include "client/replica/internal/rep.h"
#include "client/replica/internal/vouched_devices.h"
#include "client/replica/snapshot_root.h"
#include "client/replica/vouchers.h"
#include "client/sync/head.h"

namespace broodpact::replica {
namespace {

constexpr std::size_t kChainKeySize = 20;   // device(16) incarnation(4)
constexpr std::size_t kChainHeadSize = 40;  // seq(8) hash(32)
// A million chains: more than the largest cooperative has, and little enough to hold.
constexpr std::size_t kHeadsBytesMax = 67'108'864;

absl::Status OtherError(std::string_view what) {
  return Fail(absl::StatusCode::kDataLoss, "SNAPSHOT_OTHER",
              fmt::format("the server's snapshot is not what is attested: {}", what));
}

std::size_t KeepersIn(const std::vector<Attester>& attesters) {
  std::set<KeeperId> keepers;
  for (const Attester& one : attesters) keepers.insert(one.keeper);
  return keepers.size();
}

absl::Status CheckEnough(const std::vector<Attester>& attesters, std::uint64_t arrivals) {
  const std::size_t keepers = KeepersIn(attesters);
  if (keepers >= sync::kAttestingKeepersMin) return absl::OkStatus();
  return Fail(absl::StatusCode::kFailedPrecondition, "ATTESTED_BY_FEW",
              fmt::format("the server has a snapshot of {} arrivals, which {} of the {} keepers "
                          "attest whose word it takes",
                          arrivals, keepers, sync::kAttestingKeepersMin));
}

std::uint64_t BigEndian(std::string_view bytes) {
  std::uint64_t number = 0;
  for (const char byte : bytes) number = (number << 8U) | static_cast<std::uint8_t>(byte);
  return number;
}

}  // namespace

absl::StatusOr<SnapshotStart::Started> SnapshotStart::Run(const Progress& progress) {
  progress_ = progress;
  BP_ASSIGN_OR_RETURN(offer_, server_.Offer(0));
  BP_RETURN_IF_ERROR(CheckOffer());
  const sync::SnapshotManifest& manifest = offer_.manifest;
  root_ = RootOf(manifest);
  // Cheap, and most often what there is not enough of.
  if (offer_.attestations.size() < sync::kAttestingKeepersMin) {
    return CheckEnough({}, manifest.point.arrivals);
  }
  BP_ASSIGN_OR_RETURN(attesters_, FindAttesters());
  BP_RETURN_IF_ERROR(CheckEnough(attesters_, manifest.point.arrivals));
  beginning_.point = manifest.point;
  beginning_.tree = manifest.tree;
  BP_ASSIGN_OR_RETURN(beginning_.heads, FetchHeads());
  beginning_.meta[kMetaHead] = sync::EncodeHead(offer_.head);
  BP_RETURN_IF_ERROR(store_.BeginAt(beginning_, [this] { return NextSubjects(); }));
  return Started{.point = manifest.point, .attesters = attesters_};
}

absl::Status SnapshotStart::CheckOffer() const {
  const sync::SnapshotManifest& manifest = offer_.manifest;
  if (manifest.cooperative != cooperative_) return OtherError("it is of another cooperative");
  if (offer_.head.point != manifest.point || offer_.head.tree_root != manifest.tree.Root()) {
    return OtherError("it is of another log than the one that the server signs");
  }
  if (manifest.fold_version == registry::kFoldVersion) return absl::OkStatus();
  return Fail(absl::StatusCode::kFailedPrecondition, "FOLD_OTHER",
              "the server's snapshot is of another version of Broodpact");
}

absl::StatusOr<std::vector<Attester>> SnapshotStart::FindAttesters() {
  VouchedDevices devices(cooperative_);
  std::size_t bytes = 0;
  for (std::size_t i = 0; i < offer_.manifest.parts.size(); ++i) {
    if (offer_.manifest.parts[i].kind != sync::PartKind::kVouchers) continue;
    BP_ASSIGN_OR_RETURN(const std::string part, FetchPart(i));
    bytes += part.size();
    if (bytes > kVoucherBytesMax) return OtherError("what it says of the members is too long");
    BP_RETURN_IF_ERROR(devices.Add(part));
  }
  const std::string message = sync::AttestationMessage(cooperative_, offer_.manifest.point, root_);
  std::vector<Attester> attesters;
  std::set<DeviceId> counted;
  for (const sync::Attestation& one : offer_.attestations) {
    BP_ASSIGN_OR_RETURN(const std::optional<registry::Device> device, devices.Active(one.device));
    if (!device || !VerifySignature(device->key, message, one.signature)) continue;
    if (!counted.insert(one.device).second) continue;
    Attester& attester = attesters.emplace_back();
    attester = {.device = one.device, .keeper = device->keeper, .keeper_name = {}};
    BP_ASSIGN_OR_RETURN(attester.keeper_name, devices.NameOf(device->keeper));
  }
  return attesters;
}

absl::StatusOr<std::map<facts::ChainId, facts::ChainHead>> SnapshotStart::FetchHeads() {
  std::map<facts::ChainId, facts::ChainHead> heads;
  store::StateHasher hasher;
  std::size_t bytes = 0;
  std::string last_key;
  for (std::size_t i = 0; i < offer_.manifest.parts.size(); ++i) {
    if (offer_.manifest.parts[i].kind != sync::PartKind::kHeads) continue;
    BP_ASSIGN_OR_RETURN(const std::string part, FetchPart(i));
    BP_ASSIGN_OR_RETURN(const sync::SnapshotEntries entries,
                        sync::ReadEntries(part, kChainKeySize));
    for (const auto& [key, value] : entries) {
      bytes += key.size() + value.size();
      if (bytes > kHeadsBytesMax || key <= last_key) {
        return OtherError("its chains are too many, or not in order");
      }
      last_key = std::string(key);
      const std::optional<IdBytes> device = IdOfBytes(key.substr(0, sizeof(IdBytes)));
      const std::optional<Hash> hash =
          value.size() == kChainHeadSize ? HashOfBytes(value.substr(8)) : std::nullopt;
      if (!device || !hash) return OtherError("a chain of it is malformed");
      hasher.Add(key, value);
      const facts::ChainId chain{
          .device = DeviceId{*device},
          .incarnation = static_cast<std::uint32_t>(BigEndian(key.substr(sizeof(IdBytes))))};
      heads[chain] = {.seq = BigEndian(value.substr(0, 8)), .hash = *hash};
    }
  }
  if (hasher.Finish() != offer_.manifest.heads_digest) return OtherError("its chains differ");
  return heads;
}

absl::StatusOr<store::StoredSubjects> SnapshotStart::NextSubjects() {
  const std::vector<sync::SnapshotPart>& parts = offer_.manifest.parts;
  while (next_part_ < parts.size() && parts[next_part_].kind != sync::PartKind::kState) {
    ++next_part_;
  }
  store::StoredSubjects subjects;
  if (next_part_ == parts.size()) {
    BP_RETURN_IF_ERROR(CheckState());
    return subjects;
  }
  BP_ASSIGN_OR_RETURN(const std::string part, FetchPart(next_part_++));
  BP_ASSIGN_OR_RETURN(const sync::SnapshotEntries entries,
                      sync::ReadEntries(part, registry::kSubjectKeySize));
  for (const auto& [key, value] : entries) {
    const std::optional<IdBytes> id = IdOfBytes(key.substr(1));
    if (!id || key <= last_key_) return OtherError("its subjects are not in order");
    last_key_ = std::string(key);
    hasher_.Add(key, value);
    const auto kind = static_cast<registry::Kind>(key.front());
    const auto is_this = [&](const Attester& one) { return one.device.bytes == *id; };
    if (kind == registry::Kind::kDevice && std::ranges::any_of(attesters_, is_this)) {
      const auto device = registry::Decode<registry::Device>(value);
      if (device) devices_[DeviceId{*id}] = device->state;
    }
    subjects.emplace_back(registry::SubjectKey{.kind = kind, .id = *id}, std::string(value));
  }
  if (subjects.empty()) return OtherError("a part of it is empty");
  return subjects;
}

absl::Status SnapshotStart::CheckState() {
  if (hasher_.Finish() != offer_.manifest.state_digest) return OtherError("its state differs");
  // A server that left a revocation out of the vouchers has it in the state, or the state is
  // attested by nobody who has folded it.
  std::erase_if(attesters_, [&](const Attester& one) {
    const auto device = devices_.find(one.device);
    return device == devices_.end() || device->second != registry::DeviceState::kActive;
  });
  BP_RETURN_IF_ERROR(CheckEnough(attesters_, offer_.manifest.point.arrivals));
  beginning_.meta[kMetaOrigin] = EncodeOrigin(
      {.root = root_, .fold_version = offer_.manifest.fold_version, .attesters = attesters_});
  return absl::OkStatus();
}

absl::StatusOr<std::string> SnapshotStart::FetchPart(std::size_t part) {
  BP_ASSIGN_OR_RETURN(std::string bytes,
                      server_.Fetch(offer_.manifest, static_cast<std::uint32_t>(part)));
  ++parts_come_;
  if (progress_) progress_(parts_come_, offer_.manifest.parts.size());
  return bytes;
}

}  // namespace broodpact::replica
