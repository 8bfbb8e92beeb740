#pragma once

// The folder of a keeper: which file is what.
//
//   device.key       the device's secret key; not in the database, not in its backups; 0600
//   device.key.next  the key that takes its place, while a rotation is under way; 0600
//   sealing.<id>.key the key to which others seal what the device of that id may read; made when it
//                    is first needed; outside the database as well; 0600. One of a device that
//                    this was before its key was rotated stays: it opens what was sealed then
//   keeper           who this is: keeper id, name, region, device, incarnation; text, one
//                    "name value" a line; written last, so that it is there once all is
//   install          a number that the database has too: where they differ, one of the two was
//                    copied or restored, and the device begins a new incarnation
//   last             the newest own commit that is known to be in the database; where the database
//                    lacks it, it was restored from a backup, and the device begins a new
//                    incarnation
//   server           address of the server; present once joined
//   authority.pem    certificate of the server's authority
//   client.pem       certificate of this device for TLS; where it is gone, the next sync renews it
//   client.key       its secret key; 0600; the same
//   replica/         the RocksDB database
//   history/         another one: the whole log, while it is fetched after a start from a snapshot
//   replica.before/  the first one, while the other takes its place (internal/folders.h)

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/statusor.h"

#include "client/base/hash.h"
#include "client/base/id.h"
#include "client/base/signature.h"
#include "client/sync/connection.h"

namespace broodpact::replica {

// Who this home belongs to.
struct Identity {
  KeeperId keeper{};
  std::string keeper_name{};
  std::string region{};
  std::uint32_t incarnation = 1;
  PublicKey device_key{};  // the other half of device.key, for those who only read

  friend bool operator==(const Identity&, const Identity&) = default;
};

// A commit of the own device.
struct OwnPlace {
  std::uint32_t incarnation = 0;
  std::uint64_t seq = 0;
  Hash hash{};

  friend bool operator==(const OwnPlace&, const OwnPlace&) = default;
};

class Home {
 public:
  explicit Home(std::filesystem::path folder) : folder_(std::move(folder)) {}

  const std::filesystem::path& folder() const { return folder_; }
  std::filesystem::path database() const { return folder_ / "replica"; }
  std::filesystem::path history() const { return folder_ / "history"; }
  std::filesystem::path database_before() const { return folder_ / "replica.before"; }
  std::filesystem::path key_file() const { return folder_ / "device.key"; }
  std::filesystem::path next_key_file() const { return folder_ / "device.key.next"; }

  std::filesystem::path sealing_key_file(const DeviceId& device) const;
  // Those of all devices that this was.
  std::vector<std::filesystem::path> sealing_key_files() const;

  // Whether `Replica::Start` was here.
  bool started() const;

  // Errors: FAILED_PRECONDITION with reason NOT_STARTED (there is no keeper here; `broodpact
  // start` makes one); DATA_LOSS with reason HOME_DAMAGED.
  absl::StatusOr<Identity> ReadIdentity() const;
  absl::Status WriteIdentity(const Identity& identity) const;

  // The number of this installation; nothing if there is none.
  absl::StatusOr<std::optional<std::string>> ReadInstall() const;
  absl::Status WriteInstall(std::string_view number) const;

  // The newest own commit; nothing if none is written down, or the file cannot be read: it is a
  // safeguard, and its loss is no damage.
  absl::StatusOr<std::optional<OwnPlace>> ReadLast() const;
  absl::Status WriteLast(const OwnPlace& place) const;

  // Nothing before joining a server. Without a certificate where its file is missing, or without
  // its key: the device's key has them renewed.
  // Errors: DATA_LOSS with reason HOME_DAMAGED (the authority's is missing, or the address is
  // none); those of reading.
  absl::StatusOr<std::optional<sync::Credentials>> ReadCredentials() const;
  absl::Status WriteCredentials(const sync::Credentials& credentials) const;

 private:
  std::filesystem::path folder_;
};

}  // namespace broodpact::replica
