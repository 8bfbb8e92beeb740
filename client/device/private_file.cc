#include "client/device/private_file.h"

#include <cerrno>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <system_error>

#include "absl/cleanup/cleanup.h"
#include <fmt/format.h>

#include "client/base/status.h"
#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

namespace broodpact::device {
namespace {

std::string TextOfError(int error) {
  return std::generic_category().message(error);
}

absl::Status WriteFault(const std::filesystem::path& file, int error) {
  if (error == ENOSPC || error == EDQUOT) {
    return Fail(absl::StatusCode::kResourceExhausted, "DISK_FULL",
                fmt::format("no space left to write {}; free some and try again", file.string()));
  }
  return Fail(absl::StatusCode::kUnavailable, "FILE_WRITE",
              fmt::format("cannot write {}: {}; check the folder and its permissions",
                          file.string(), TextOfError(error)));
}

absl::Status ReadFault(const std::filesystem::path& file, int error) {
  if (error == ENOENT || error == ENOTDIR) {
    return Fail(absl::StatusCode::kNotFound, "FILE_MISSING",
                fmt::format("there is no file {}", file.string()));
  }
  return Fail(
      absl::StatusCode::kUnavailable, "FILE_READ",
      fmt::format("cannot read {}: {}; check its permissions", file.string(), TextOfError(error)));
}

// The folder that `file` is in.
std::filesystem::path FolderOf(const std::filesystem::path& file) {
  const std::filesystem::path folder = file.parent_path();
  return folder.empty() ? std::filesystem::path(".") : folder;
}

// Writes all of `bytes` and flushes them to the disk. Returns 0 or an errno.
int WriteAll(int descriptor, std::string_view bytes) {
  while (!bytes.empty()) {
    const ssize_t written = ::write(descriptor, bytes.data(), bytes.size());
    if (written < 0) {
      if (errno == EINTR) continue;
      return errno;
    }
    bytes.remove_prefix(static_cast<std::size_t>(written));
  }
  return ::fsync(descriptor) == 0 ? 0 : errno;
}

enum class Mode : std::uint8_t { kReplace, kNew };

// Gives the written neighbour its name. Returns 0 or an errno. A link, unlike a rename, refuses to
// take the place of another file; the caller removes the neighbour.
int Publish(const std::string& neighbour, const std::filesystem::path& file, Mode mode) {
  const int result = mode == Mode::kReplace ? ::rename(neighbour.c_str(), file.c_str())
                                            : ::link(neighbour.c_str(), file.c_str());
  return result == 0 ? 0 : errno;
}

absl::Status Write(const std::filesystem::path& file, std::string_view bytes, Mode mode) {
  std::string neighbour = (FolderOf(file) / ("." + file.filename().string() + ".XXXXXX")).string();
  const int descriptor = ::mkostemp(neighbour.data(), O_CLOEXEC);  // mode 0600
  if (descriptor < 0) return WriteFault(file, errno);
  const absl::Cleanup remove = [&neighbour] { ::unlink(neighbour.c_str()); };

  int error = WriteAll(descriptor, bytes);
  if (::close(descriptor) != 0 && error == 0) error = errno;
  if (error == 0) error = Publish(neighbour, file, mode);
  if (error == EEXIST && mode == Mode::kNew) {
    return Fail(absl::StatusCode::kAlreadyExists, "FILE_EXISTS",
                fmt::format("{} exists already, and is not replaced", file.string()));
  }
  if (error == 0) error = FlushFolder(FolderOf(file));
  return error == 0 ? absl::OkStatus() : WriteFault(file, error);
}

}  // namespace

int FlushFolder(const std::filesystem::path& folder) {
  const int descriptor = ::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (descriptor < 0) return errno;
  const int error = ::fsync(descriptor) == 0 ? 0 : errno;
  ::close(descriptor);
  return error;
}

absl::StatusOr<std::string> ReadPrivateFile(const std::filesystem::path& file) {
  const int descriptor = ::open(file.c_str(), O_RDONLY | O_CLOEXEC);
  if (descriptor < 0) return ReadFault(file, errno);
  const absl::Cleanup close = [descriptor] { ::close(descriptor); };

  std::string bytes(kPrivateFileBytesMax + 1, '\0');
  std::size_t size = 0;
  while (size < bytes.size()) {
    const ssize_t got = ::read(descriptor, bytes.data() + size, bytes.size() - size);
    if (got < 0 && errno == EINTR) continue;
    if (got < 0) return ReadFault(file, errno);
    if (got == 0) break;
    size += static_cast<std::size_t>(got);
  }
  if (size > kPrivateFileBytesMax) {
    return Fail(absl::StatusCode::kResourceExhausted, "FILE_TOO_LARGE",
                fmt::format("{} is larger than {} bytes; this is not a file of ours", file.string(),
                            kPrivateFileBytesMax));
  }
  bytes.resize(size);
  return bytes;
}

absl::Status WritePrivateFile(const std::filesystem::path& file, std::string_view bytes) {
  return Write(file, bytes, Mode::kReplace);
}

absl::Status WriteNewPrivateFile(const std::filesystem::path& file, std::string_view bytes) {
  return Write(file, bytes, Mode::kNew);
}

}  // namespace broodpact::device
