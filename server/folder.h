#pragma once

// The folder of a server: which file is what. Only its owner may enter it.
//
//   authority.key, authority.pem   the authority that all of this server's certificates hang on
//   server.key, server.pem         the server's own certificate for TLS
//   log.key                        signs the heads of the arrival log
//   claim                          the secret that lets a founder claim the server; gone after it
//   address                        where the server listened last; for scripts
//   database/                      the replica
//   snapshots/                     snapshots of the state (snapshots.h)

#include <filesystem>
#include <utility>

#include "absl/status/status.h"

namespace broodpact::server {

class Folder {
 public:
  explicit Folder(std::filesystem::path path) : path_(std::move(path)) {}

  // Makes the folder if there is none, for its owner alone.
  // Errors: UNAVAILABLE with reason FILE_WRITE.
  absl::Status Make() const;

  std::filesystem::path authority_key() const { return path_ / "authority.key"; }
  std::filesystem::path authority_certificate() const { return path_ / "authority.pem"; }
  std::filesystem::path server_key() const { return path_ / "server.key"; }
  std::filesystem::path server_certificate() const { return path_ / "server.pem"; }
  std::filesystem::path log_key() const { return path_ / "log.key"; }
  std::filesystem::path claim() const { return path_ / "claim"; }
  std::filesystem::path address() const { return path_ / "address"; }
  std::filesystem::path database() const { return path_ / "database"; }
  std::filesystem::path snapshots() const { return path_ / "snapshots"; }

 private:
  std::filesystem::path path_;
};

}  // namespace broodpact::server
