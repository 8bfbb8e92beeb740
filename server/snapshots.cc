#include "server/snapshots.h"

#include <algorithm>
#include <charconv>
#include <fstream>
#include <iterator>
#include <system_error>
#include <utility>

#include <fmt/format.h>

#include "broodpact/v1/snapshot_service.pb.h"
#include "client/base/status.h"
#include "client/device/private_file.h"
#include "client/registry/fold.h"
#include "client/registry/state.h"
#include "client/replica/snapshot_root.h"
#include "server/snapshot_writer.h"
#include <sys/resource.h>
#include <unistd.h>

namespace broodpact::server {
namespace {

// A manifest of as many parts as there may be.
constexpr std::size_t kManifestBytesMax = 1'048'576;
constexpr int kWriterNiceness = 10;

std::optional<std::string> ReadWhole(const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  std::string bytes{std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
  if (!in || bytes.size() > kManifestBytesMax) return std::nullopt;
  return bytes;
}

std::optional<std::uint64_t> ArrivalsNamed(const std::filesystem::path& folder) {
  const std::string name = folder.filename().string();
  std::uint64_t arrivals = 0;
  const auto [end, error] = std::from_chars(name.data(), name.data() + name.size(), arrivals);
  if (error != std::errc() || end != name.data() + name.size()) return std::nullopt;
  return arrivals;
}

// Whether a manifest is of this log, and of this version of the fold.
bool IsOfLog(const store::Store& database, const sync::SnapshotManifest& manifest) {
  if (manifest.fold_version != registry::kFoldVersion) return false;
  const auto cooperative = database.Meta(store::kCooperativeName);
  if (!cooperative.ok() || *cooperative != std::string(ViewOf(manifest.cooperative))) return false;
  const absl::StatusOr<Hash> log_hash = database.LogHashAt(manifest.point.arrivals);
  return log_hash.ok() && *log_hash == manifest.point.log_hash;
}

std::optional<Snapshots::Kept> ReadKept(const std::filesystem::path& folder) {
  v1::SnapshotManifest message;
  const std::optional<std::string> bytes = ReadWhole(folder / "manifest");
  if (!bytes || !message.ParseFromString(*bytes)) return std::nullopt;
  absl::StatusOr<sync::SnapshotManifest> manifest = sync::ReadManifest(message);
  if (!manifest.ok()) return std::nullopt;
  Snapshots::Kept kept{.manifest = *std::move(manifest), .attestations = {}};
  v1::OfferResponse attested;
  const std::optional<std::string> words = ReadWhole(folder / "attestations");
  if (!words || !attested.ParseFromString(*words)) return kept;
  for (const v1::SnapshotAttestation& one : attested.attestations()) {
    const absl::StatusOr<sync::Attestation> attestation = sync::ReadAttestation(one);
    if (attestation.ok()) kept.attestations.push_back(*attestation);
  }
  return kept;
}

absl::Status GoneError(std::uint64_t arrivals) {
  return Fail(absl::StatusCode::kNotFound, "SNAPSHOT_GONE",
              fmt::format("there is no snapshot of {} arrivals any more; ask for the newest one",
                          arrivals));
}

absl::Status FileError(const std::filesystem::path& file, const std::error_code& error) {
  return Fail(absl::StatusCode::kUnavailable, "FILE_WRITE",
              fmt::format("the folder {} cannot be made: {}", file.string(), error.message()));
}

}  // namespace

Snapshots::Snapshots(const Surroundings& surroundings) : surroundings_(surroundings) {}

std::unique_ptr<Snapshots> Snapshots::Open(const Surroundings& surroundings) {
  std::unique_ptr<Snapshots> snapshots(new Snapshots(surroundings));
  snapshots->Load();
  if (surroundings.interval > 0) {
    snapshots->writer_ = std::thread([writing = snapshots.get()] { writing->Work(); });
  }
  return snapshots;
}

Snapshots::~Snapshots() {
  Stop();
}

void Snapshots::Load() {
  std::vector<Kept> kept;
  std::error_code ignored;  // what cannot be read is written again in time
  std::vector<std::filesystem::path> rest;
  for (const auto& entry : std::filesystem::directory_iterator(surroundings_.folder, ignored)) {
    std::optional<Kept> one = ArrivalsNamed(entry.path()) ? ReadKept(entry.path()) : std::nullopt;
    if (one && IsOfLog(surroundings_.store, one->manifest)) {
      kept.push_back(*std::move(one));
    } else {
      rest.push_back(entry.path());
    }
  }
  for (const std::filesystem::path& each : rest) std::filesystem::remove_all(each, ignored);
  std::ranges::sort(kept, [](const Kept& a, const Kept& b) {
    return a.manifest.point.arrivals > b.manifest.point.arrivals;
  });
  due_ = (kept.empty() ? 0 : kept.front().manifest.point.arrivals) + surroundings_.interval;
  kept_ = std::move(kept);
}

void Snapshots::OnWritten() {
  if (surroundings_.interval == 0 || surroundings_.store.point().arrivals < due_) return;
  const std::lock_guard lock(mutex_);
  if (waiting_ != nullptr || stopping_) return;
  waiting_ = surroundings_.store.Pin();
  due_ = waiting_->point().arrivals + surroundings_.interval;
  changed_.notify_one();
}

void Snapshots::Work() {
  // Nobody waits for it; whoever pushes does.
  ::setpriority(PRIO_PROCESS, static_cast<id_t>(::gettid()), kWriterNiceness);
  while (true) {
    std::unique_ptr<store::Pinned> pinned;
    {
      std::unique_lock lock(mutex_);
      changed_.wait(lock, [this] { return waiting_ != nullptr || stopping_; });
      if (stopping_) return;
      pinned = std::move(waiting_);
    }
    const std::string arrivals = fmt::to_string(pinned->point().arrivals);
    absl::StatusOr<Kept> kept = Write(*pinned);
    if (kept.ok()) {
      surroundings_.log.Write(
          Level::kInfo, "snapshot_written",
          {{"arrivals", arrivals}, {"parts", fmt::to_string(kept->manifest.parts.size())}});
      Keep(*std::move(kept));
    } else if (!stopping_) {
      surroundings_.log.Write(Level::kError, "snapshot_lost",
                              {{"arrivals", arrivals}, {"reason", ReasonOf(kept.status())}});
    }
  }
}

absl::StatusOr<Snapshots::Kept> Snapshots::Write(const store::Pinned& pinned) const {
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> bytes,
                      surroundings_.store.Meta(store::kCooperativeName));
  const Hash cooperative = bytes ? HashOfBytes(*bytes).value_or(Hash{}) : Hash{};
  const std::filesystem::path folder = surroundings_.folder / "new";
  std::error_code error;
  std::filesystem::remove_all(folder, error);
  std::filesystem::create_directories(folder, error);
  if (error) return FileError(folder, error);
  std::filesystem::permissions(surroundings_.folder, std::filesystem::perms::owner_all, error);
  BP_ASSIGN_OR_RETURN(
      sync::SnapshotManifest manifest,
      SnapshotWriter(folder, stopping_).Run(surroundings_.store, pinned, cooperative));
  const std::filesystem::path place = FolderOf(manifest.point.arrivals);
  std::filesystem::remove_all(place, error);
  std::filesystem::rename(folder, place, error);
  if (error) return FileError(place, error);
  device::FlushFolder(surroundings_.folder);
  return Kept{.manifest = std::move(manifest), .attestations = {}};
}

void Snapshots::Keep(Kept kept) {
  const std::lock_guard lock(mutex_);
  kept_.insert(kept_.begin(), std::move(kept));
  while (kept_.size() > kSnapshotsKept) {
    std::error_code ignored;  // the next start removes it
    std::filesystem::remove_all(FolderOf(kept_.back().manifest.point.arrivals), ignored);
    kept_.pop_back();
  }
}

std::optional<facts::LogPoint> Snapshots::NewestPlace() const {
  const std::lock_guard lock(mutex_);
  if (kept_.empty()) return std::nullopt;
  return kept_.front().manifest.point;
}

absl::StatusOr<Snapshots::Kept> Snapshots::At(std::uint64_t arrivals) const {
  const std::lock_guard lock(mutex_);
  const Kept* const kept = Find(arrivals);
  if (kept == nullptr) return GoneError(arrivals);
  return *kept;
}

std::vector<Snapshots::Kept> Snapshots::All() const {
  const std::lock_guard lock(mutex_);
  return kept_;
}

absl::StatusOr<std::string> Snapshots::ReadSlice(std::uint64_t arrivals, std::uint32_t part,
                                                 std::uint64_t offset) const {
  std::filesystem::path file;
  {
    const std::lock_guard lock(mutex_);
    const Kept* const kept = Find(arrivals);
    if (kept == nullptr) return GoneError(arrivals);
    const std::vector<sync::SnapshotPart>& parts = kept->manifest.parts;
    if (part >= parts.size() || offset >= parts[part].packed_bytes) {
      return Fail(absl::StatusCode::kInvalidArgument, "SLICE_RANGE",
                  fmt::format("the snapshot has no byte {} in a part {}", offset, part));
    }
    file = PartFile(FolderOf(arrivals), part);
  }
  std::ifstream in(file, std::ios::binary);
  in.seekg(static_cast<std::streamoff>(offset));
  std::string slice(sync::kSnapshotSliceBytesMax, '\0');
  in.read(slice.data(), static_cast<std::streamsize>(slice.size()));
  slice.resize(static_cast<std::size_t>(in.gcount()));
  if (!slice.empty()) return slice;
  return Fail(absl::StatusCode::kUnavailable, "FILE_READ",
              "a part of the snapshot cannot be read; try again later");
}

absl::Status Snapshots::Attest(const Caller& caller, std::uint64_t arrivals, const Hash& root,
                               const Signature& signature) {
  const std::lock_guard lock(mutex_);
  const Kept* const found = Find(arrivals);
  if (found == nullptr) return GoneError(arrivals);
  Kept& kept = kept_[static_cast<std::size_t>(found - kept_.data())];
  if (replica::RootOf(kept.manifest) != root) {
    return Fail(absl::StatusCode::kFailedPrecondition, "ROOT_OTHER",
                "the snapshot is of another state than your device has folded");
  }
  const std::string message =
      sync::AttestationMessage(kept.manifest.cooperative, kept.manifest.point, root);
  if (!VerifySignature(caller.key, message, signature)) {
    return Fail(absl::StatusCode::kPermissionDenied, "ATTESTATION_SIGNATURE_BAD",
                "the attestation is not signed by the device that calls");
  }
  const bool known = std::ranges::any_of(
      kept.attestations, [&](const sync::Attestation& one) { return one.device == caller.device; });
  if (known) return absl::OkStatus();
  // It is keepers that count: the newest word of each, so that one with many devices does not take
  // the room of all.
  std::vector<sync::Attestation> attestations;
  for (const sync::Attestation& one : kept.attestations) {
    BP_ASSIGN_OR_RETURN(const auto device,
                        registry::Read<registry::Device>(surroundings_.store, one.device));
    if (!device || device->keeper != caller.keeper) attestations.push_back(one);
  }
  if (attestations.size() >= sync::kAttestationsMax) {
    return Fail(absl::StatusCode::kResourceExhausted, "ATTESTATIONS_FULL",
                "the snapshot has as many attestations as it needs");
  }
  attestations.push_back({.device = caller.device, .signature = signature});
  v1::OfferResponse attested;
  for (const sync::Attestation& one : attestations) sync::Write(one, *attested.add_attestations());
  BP_RETURN_IF_ERROR(
      device::WritePrivateFile(FolderOf(arrivals) / "attestations", attested.SerializeAsString()));
  kept.attestations = std::move(attestations);
  return absl::OkStatus();
}

void Snapshots::Stop() {
  {
    const std::lock_guard lock(mutex_);
    stopping_ = true;
    changed_.notify_all();
  }
  if (writer_.joinable()) writer_.join();
  const std::lock_guard lock(mutex_);
  waiting_.reset();  // it holds on to the store
}

const Snapshots::Kept* Snapshots::Find(std::uint64_t arrivals) const {
  const auto found = std::ranges::find_if(
      kept_, [&](const Kept& one) { return one.manifest.point.arrivals == arrivals; });
  return found == kept_.end() ? nullptr : &*found;
}

std::filesystem::path Snapshots::FolderOf(std::uint64_t arrivals) const {
  return surroundings_.folder / fmt::to_string(arrivals);
}

}  // namespace broodpact::server
