#include "server/folder.h"

#include <system_error>

#include <fmt/format.h>

#include "client/base/status.h"

namespace broodpact::server {

absl::Status Folder::Make() const {
  std::error_code error;
  if (std::filesystem::is_directory(path_, error)) return absl::OkStatus();
  std::filesystem::create_directories(path_, error);
  if (!error) {
    std::filesystem::permissions(path_, std::filesystem::perms::owner_all, error);
  }
  if (!error) return absl::OkStatus();
  return Fail(absl::StatusCode::kUnavailable, "FILE_WRITE",
              fmt::format("the folder {} cannot be made: {}", path_.string(), error.message()));
}

}  // namespace broodpact::server
