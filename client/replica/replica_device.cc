// Devices of a keeper: another key in this one's place, honest work of a device that was cut off,
// and what the server says to one that was.

#include <filesystem>
#include <system_error>
#include <utility>

#include <fmt/format.h>

#include "client/base/check.h"
#include "client/base/status.h"
#include "client/replica/internal/certify.h"
#include "client/replica/internal/pending.h"
#include "client/replica/internal/refusal.h"
#include "client/replica/internal/rep.h"
#include "client/sync/joining.h"

namespace broodpact::replica {
namespace {

// The key of a rotation that is under way: made before, or now.
absl::StatusOr<device::SecretKey> NextKey(const Home& home) {
  std::error_code ignored;  // what cannot be seen cannot be loaded either, and Save says so
  if (std::filesystem::exists(home.next_key_file(), ignored)) {
    return device::SecretKey::Load(home.next_key_file());
  }
  device::SecretKey key = device::SecretKey::Generate();
  BP_RETURN_IF_ERROR(key.Save(home.next_key_file()));
  return key;
}

absl::Status PutKeyInPlace(const Home& home) {
  std::error_code error;
  std::filesystem::rename(home.next_key_file(), home.key_file(), error);
  if (!error) return absl::OkStatus();
  return Fail(absl::StatusCode::kUnavailable, "FILE_WRITE",
              fmt::format("the new key cannot be put in place of {}: {}", home.key_file().string(),
                          error.message()));
}

}  // namespace

absl::Status FinishRotation(const Home& home, const PublicKey& device_key) {
  std::error_code ignored;
  if (!std::filesystem::exists(home.next_key_file(), ignored)) return absl::OkStatus();
  BP_ASSIGN_OR_RETURN(const device::SecretKey next, device::SecretKey::Load(home.next_key_file()));
  // The identity is written first: where it names the next key, only the file is left to move.
  if (next.public_key() != device_key) return absl::OkStatus();
  return PutKeyInPlace(home);
}

absl::Status Replica::Rep::KnowSelf() {
  BP_ASSIGN_OR_RETURN(const std::optional<registry::Device> own,
                      registry::Read<registry::Device>(Laid(), chain().device));
  if (!own) return absl::OkStatus();
  BP_ASSIGN_OR_RETURN(const std::optional<registry::Keeper> keeper,
                      registry::Read<registry::Keeper>(Laid(), own->keeper));
  if (!keeper) return absl::OkStatus();
  const bool known = identity.keeper == keeper->id && identity.keeper_name == keeper->name &&
                     identity.region == keeper->region;
  if (known) return absl::OkStatus();
  identity.keeper = keeper->id;
  identity.keeper_name = keeper->name;
  identity.region = keeper->region;
  return home.WriteIdentity(identity);
}

absl::Status Replica::Rep::KeepRefusal(const absl::Status& status) {
  if (!status.ok() && !IsRefusal(status)) return absl::OkStatus();
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> kept, store->Meta(kMetaRefusal));
  const std::string message =
      status.ok() ? "" : fmt::format("{} {}", ReasonOf(status), std::string(status.message()));
  if (kept.value_or("") == message) return absl::OkStatus();
  return store->PutMeta(kMetaRefusal, message);
}

absl::Status Replica::Rep::CheckNotRefused() const {
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> kept, store->Meta(kMetaRefusal));
  if (!kept || kept->empty()) return absl::OkStatus();
  const std::size_t space = kept->find(' ');
  return WithWayBack(Fail(absl::StatusCode::kPermissionDenied, kept->substr(0, space),
                          kept->substr(space == std::string::npos ? kept->size() : space + 1)));
}

absl::StatusOr<std::uint64_t> Replica::Rep::CommitsUpToLeaving(const absl::Status& status) const {
  if (ReasonOf(status) != "DEVICE_LEFT") return 0;
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> kept, store->Meta(kMetaRefusal));
  if (kept && !kept->empty()) return 0;
  std::uint64_t count = 0;
  for (const Undelivered& one : undelivered) {
    if (one.commit.header.device != chain().device) continue;
    ++count;
    if (std::holds_alternative<facts::Leaving>(one.commit.statements.front())) return count;
  }
  return 0;
}

absl::Status Replica::Rep::WithWayBack(const absl::Status& status) const {
  if (ReasonOf(status) != "DEVICE_LEFT") return status;
  return Fail(status.code(), "DEVICE_LEFT",
              fmt::format("{}; the code enters a new home, and this one stays to be read: "
                          "`broodpact --home NEW start --name {}`, then `broodpact --home NEW "
                          "join -`",
                          std::string(status.message()), identity.keeper_name));
}

absl::Status Replica::Refusal() const {
  return rep_->CheckNotRefused();
}

absl::Status Replica::Rep::TakeNextKey(device::SecretKey next) {
  identity.device_key = next.public_key();
  identity.incarnation = 1;
  head = {};
  BP_RETURN_IF_ERROR(home.WriteIdentity(identity));
  BP_RETURN_IF_ERROR(PutKeyInPlace(home));
  // No commit of the new chain is known to be in the database yet.
  BP_RETURN_IF_ERROR(home.WriteLast({}));
  noted.reset();
  key.emplace(std::move(next));
  BP_RETURN_IF_ERROR(store->PutMeta(kMetaRefusal, ""));
  return Refold();
}

absl::Status Replica::Rep::StateRotation(Replica& replica, const device::SecretKey& next,
                                         const sync::Options& options) {
  const std::string message = facts::RotationMessage(ledger->cooperative(), chain().device);
  BP_RETURN_IF_ERROR(replica.Sync(options).status());
  BP_RETURN_IF_ERROR(replica
                         .Act({facts::KeyRotation{.device_key = next.public_key(),
                                                  .key_signature = next.Sign(message)}})
                         .status());
  return replica.Sync(options).status();
}

absl::Status Replica::RotateKey() {
  BP_RETURN_IF_ERROR(rep_->CheckWritable());
  BP_RETURN_IF_ERROR(CheckFounded(cooperative()));
  sync::Options options;
  options.now_ms = rep_->clock.NowMillis();
  BP_ASSIGN_OR_RETURN(device::SecretKey next, NextKey(rep_->home));
  // With its arrival the server ends the stream of the old key; one that was cut off before may
  // have arrived then. That it is this key that took the place is proved by what follows.
  absl::Status stated = rep_->StateRotation(*this, next, options);
  if (!stated.ok() && ReasonOf(stated) != "DEVICE_REPLACED") return stated;
  BP_ASSIGN_OR_RETURN(std::optional<sync::Credentials> credentials, rep_->home.ReadCredentials());
  if (!credentials) return absl::InternalError("a replica that has synced has credentials");
  BP_RETURN_IF_ERROR(Certify(*credentials, [&](const PublicKey& tls_key) {
    return rep_->network.Renew(*credentials, next, tls_key, {});
  }));
  BP_RETURN_IF_ERROR(rep_->TakeNextKey(std::move(next)));
  BP_RETURN_IF_ERROR(rep_->home.WriteCredentials(*credentials));
  return Sync(options).status();
}

absl::StatusOr<AdoptReport> Replica::Adopt(const DeviceId& device) {
  BP_RETURN_IF_ERROR(rep_->CheckWritable());
  AdoptReport report;
  BP_ASSIGN_OR_RETURN(const std::vector<store::PendingCommit> pending, rep_->store->Pending());
  std::vector<store::PendingCommit> late;
  for (const store::PendingCommit& one : pending) {
    if (one.chain.device == device) late.push_back(one);
  }
  for (const store::PendingCommit& one : late) {
    BP_ASSIGN_OR_RETURN(const facts::Commit commit, facts::ParseCommit(one.commit.bytes));
    facts::Adoption adoption{.commit = one.commit.bytes, .signature = one.commit.signature};
    // What another device stated again is adopted as what it is.
    if (const auto* again = std::get_if<facts::Restatement>(&commit.statements.front())) {
      adoption = {.commit = again->commit, .signature = again->signature};
    }
    const absl::StatusOr<Acted> acted = Act({adoption});
    const bool adopted_before = ReasonOf(acted.status()) == "ALREADY_RESTATED";
    if (!acted.ok() && !adopted_before) {
      report.refused.push_back(fmt::format("commit {} of life {}: {}", commit.header.seq,
                                           commit.header.incarnation,
                                           std::string(acted.status().message())));
      continue;
    }
    ++(adopted_before ? report.known : report.adopted);
    BP_RETURN_IF_ERROR(rep_->store->ReplacePending({one}, {}));
  }
  BP_RETURN_IF_ERROR(rep_->Refold());
  return report;
}

}  // namespace broodpact::replica
