#pragma once

// Small files that only their owner may read: keys, certificates, the address of the server.

#include <filesystem>
#include <string>
#include <string_view>

#include "absl/status/statusor.h"

namespace broodpact::device {

inline constexpr std::size_t kPrivateFileBytesMax = 65'536;

// Reads a small file whole.
// Errors: NOT_FOUND with reason FILE_MISSING; RESOURCE_EXHAUSTED with reason FILE_TOO_LARGE;
// UNAVAILABLE with reason FILE_READ.
absl::StatusOr<std::string> ReadPrivateFile(const std::filesystem::path& file);

// Writes `bytes` with mode 0600: to a neighbour first, flushed, then renamed, so that a reader
// sees the old file or the new one. Replaces.
// Errors: RESOURCE_EXHAUSTED with reason DISK_FULL; UNAVAILABLE with reason FILE_WRITE.
absl::Status WritePrivateFile(const std::filesystem::path& file, std::string_view bytes);

// As WritePrivateFile, but does not replace: of two who write at once, one succeeds.
// Errors: also ALREADY_EXISTS with reason FILE_EXISTS.
absl::Status WriteNewPrivateFile(const std::filesystem::path& file, std::string_view bytes);

// Flushes the names in a folder to the disk: what was renamed is durable only after that. Returns 0
// or an errno.
int FlushFolder(const std::filesystem::path& folder);

}  // namespace broodpact::device
