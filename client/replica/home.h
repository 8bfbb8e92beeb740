#pragma once

// The folder of a keeper: which file is what.
//
//   device.key       the device's secret key; not in the database, not in its backups; 0600
//   keeper           who this is: keeper id, name, region, incarnation; text, one "name value" a line
//   server           address of the server; present once joined
//   authority.pem    certificate of the server's authority
//   client.pem       certificate of this device for TLS
//   client.key       its secret key; 0600
//   replica/         the RocksDB database

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>

#include "absl/status/statusor.h"

#include "client/base/id.h"
#include "client/sync/connection.h"

namespace broodpact::replica {

// Who this home belongs to.
struct Identity {
  KeeperId keeper{};
  std::string keeper_name{};
  std::string region{};
  std::uint32_t incarnation = 1;
};

class Home {
 public:
  explicit Home(std::filesystem::path folder) : folder_(std::move(folder)) {}

  const std::filesystem::path& folder() const { return folder_; }
  std::filesystem::path database() const { return folder_ / "replica"; }
  std::filesystem::path key_file() const { return folder_ / "device.key"; }

  // Errors: FAILED_PRECONDITION with reason NOT_STARTED (there is no keeper here; `broodpact
  // start` makes one); DATA_LOSS with reason HOME_DAMAGED.
  absl::StatusOr<Identity> ReadIdentity() const;
  absl::Status WriteIdentity(const Identity& identity) const;

  // Nothing before joining a server.
  absl::StatusOr<std::optional<sync::Credentials>> ReadCredentials() const;
  absl::Status WriteCredentials(const sync::Credentials& credentials) const;

 private:
  std::filesystem::path folder_;
};

}  // namespace broodpact::replica
