#include "client/replica/internal/snapshot_notes.h"

#include <algorithm>

#include "client/base/bytes.h"
#include "client/base/status.h"

namespace broodpact::replica {
namespace {

constexpr std::size_t kHashSize = std::tuple_size_v<Hash>;

absl::StatusOr<std::string> TextOfMeta(const store::Store& database, std::string_view name) {
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> bytes, database.Meta(name));
  return bytes.value_or("");
}

}  // namespace

// Grammar, in the encoding of base/bytes.h: root (32), version of the fold, count, and for each
// device its id (16), its keeper's id (16) and name.
std::string EncodeOrigin(const SnapshotOrigin& origin) {
  std::string bytes;
  ByteWriter writer(bytes);
  writer.Raw(ViewOf(origin.root));
  writer.Unsigned(origin.fold_version);
  writer.Unsigned(origin.attesters.size());
  for (const Attester& attester : origin.attesters) {
    writer.Name(attester.device);
    writer.Name(attester.keeper);
    writer.Text(attester.keeper_name);
  }
  return bytes;
}

absl::StatusOr<std::optional<SnapshotOrigin>> ReadOrigin(const store::Store& database) {
  BP_ASSIGN_OR_RETURN(const std::string bytes, TextOfMeta(database, kMetaOrigin));
  ByteReader reader(bytes);
  SnapshotOrigin origin;
  const std::optional<Hash> root = HashOfBytes(reader.Raw(kHashSize));
  origin.fold_version = static_cast<std::uint32_t>(reader.Unsigned());
  for (std::size_t count = reader.Count(2 * sizeof(IdBytes)); count > 0; --count) {
    Attester& attester = origin.attesters.emplace_back();
    attester.device = reader.Name<DeviceId>();
    attester.keeper = reader.Name<KeeperId>();
    attester.keeper_name = std::string(reader.Text());
  }
  if (!root || !reader.ok()) return std::optional<SnapshotOrigin>();
  origin.root = *root;
  return std::optional<SnapshotOrigin>(std::move(origin));
}

// Grammar, as above: arrivals, log hash (32), root (32), version of the fold, settled (0 or 1).
absl::Status KeepOwnRoot(store::Store& database, const OwnRoot& own) {
  std::string bytes;
  ByteWriter writer(bytes);
  writer.Unsigned(own.point.arrivals);
  writer.Raw(ViewOf(own.point.log_hash));
  writer.Raw(ViewOf(own.root));
  writer.Unsigned(own.fold_version);
  writer.Unsigned(own.settled ? 1 : 0);
  return database.PutMeta(kMetaOwnRoot, bytes);
}

absl::StatusOr<std::optional<OwnRoot>> ReadOwnRoot(const store::Store& database) {
  BP_ASSIGN_OR_RETURN(const std::string bytes, TextOfMeta(database, kMetaOwnRoot));
  ByteReader reader(bytes);
  OwnRoot own;
  own.point.arrivals = reader.Unsigned();
  const std::optional<Hash> log_hash = HashOfBytes(reader.Raw(kHashSize));
  const std::optional<Hash> root = HashOfBytes(reader.Raw(kHashSize));
  own.fold_version = static_cast<std::uint32_t>(reader.Unsigned());
  own.settled = reader.Unsigned() != 0;
  if (!log_hash || !root || !reader.ok()) return std::optional<OwnRoot>();
  own.point.log_hash = *log_hash;
  own.root = *root;
  return std::optional<OwnRoot>(own);
}

absl::StatusOr<std::vector<std::string>> ReadSnapshotFaults(const store::Store& database) {
  BP_ASSIGN_OR_RETURN(const std::string bytes, TextOfMeta(database, kMetaSnapshotFaults));
  std::vector<std::string> faults;
  ByteReader reader(bytes);
  while (reader.ok() && !reader.at_end()) {
    std::string fault(reader.Text());
    if (reader.ok()) faults.push_back(std::move(fault));
  }
  return faults;
}

absl::Status KeepSnapshotFault(store::Store& database, const std::string& fault) {
  BP_ASSIGN_OR_RETURN(std::vector<std::string> faults, ReadSnapshotFaults(database));
  const bool known = std::ranges::find(faults, fault) != faults.end();
  if (known || faults.size() >= kSnapshotFaultsMax) return absl::OkStatus();
  faults.push_back(fault);
  std::string bytes;
  ByteWriter writer(bytes);
  for (const std::string& one : faults) writer.Text(one);
  return database.PutMeta(kMetaSnapshotFaults, bytes);
}

std::string KeepersOf(const std::vector<Attester>& attesters) {
  std::vector<const Attester*> keepers;
  for (const Attester& one : attesters) {
    const bool named = std::ranges::any_of(
        keepers, [&](const Attester* before) { return before->keeper == one.keeper; });
    if (!named) keepers.push_back(&one);
  }
  std::string text;
  for (std::size_t i = 0; i < keepers.size(); ++i) {
    if (i > 0) text += i + 1 == keepers.size() ? " and " : ", ";
    text += keepers[i]->keeper_name;
  }
  return text;
}

}  // namespace broodpact::replica
