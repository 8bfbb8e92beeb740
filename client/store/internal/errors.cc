#include "client/store/internal/errors.h"

#include <algorithm>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/store/internal/holder.h"

namespace broodpact::store {
namespace {

bool Contains(std::string_view text, std::string_view part) {
  return text.find(part) != std::string_view::npos;
}

bool IsDiskFull(const rocksdb::Status& status, std::string_view text) {
  // The file system's words come through as text: a quota and a limit on file size have no subcode.
  return status.IsNoSpace() || Contains(text, "No space left") ||
         Contains(text, "File too large") || Contains(text, "Disk quota exceeded");
}

}  // namespace

absl::Status FromRocks(const rocksdb::Status& status, Doing doing) {
  if (status.ok()) return absl::OkStatus();
  const std::string text = status.ToString();
  if (IsDiskFull(status, text)) return DiskFull();
  // A file that the database names and that is not there: it is gone, or the one that names it is
  // damaged.
  const bool is_file_missing = status.IsPathNotFound();
  if (status.IsCorruption() || is_file_missing) return Damaged(WithoutFolders(text));
  if (doing == Doing::kReading) {
    return Fail(absl::StatusCode::kUnavailable, "STORE_READ",
                fmt::format("the replica cannot be read ({}); check the disk and its permissions, "
                            "then try again",
                            WithoutFolders(text)));
  }
  return Fail(absl::StatusCode::kUnavailable, "STORE_WRITE",
              fmt::format("the replica cannot be written, nothing of this was stored ({}); check "
                          "the disk and its permissions, then try again",
                          WithoutFolders(text)));
}

absl::Status Damaged(std::string_view what) {
  return Fail(absl::StatusCode::kDataLoss, "STORE_DAMAGED",
              fmt::format("the replica is damaged: {}; `broodpact verify` says what is affected, "
                          "`broodpact rebuild` restores what follows from the commits; where both "
                          "say this again, put the folder back from a backup, or join again from a "
                          "fresh one",
                          what));
}

absl::Status DiskFull() {
  return Fail(absl::StatusCode::kResourceExhausted, "DISK_FULL",
              "the disk is full, or a limit on file size is reached: nothing of this was stored; "
              "free some space and run this again");
}

absl::Status Missing() {
  return Fail(absl::StatusCode::kNotFound, "REPLICA_MISSING",
              "there is no replica here yet; `broodpact start` makes one");
}

absl::Status Busy(const std::filesystem::path& folder) {
  return Fail(
      absl::StatusCode::kUnavailable, "REPLICA_BUSY",
      fmt::format("{} writes to this replica; wait for it, or stop it", HolderText(folder)));
}

bool IsBusy(const rocksdb::Status& status) {
  const std::string text = status.ToString();
  return status.IsIOError() &&
         (Contains(text, "lock hold by current process") || Contains(text, "While lock file"));
}

bool IsNewer(const rocksdb::Status& status) {
  return status.IsInvalidArgument() && Contains(status.ToString(), "Column families not opened");
}

std::string WithoutFolders(std::string_view message) {
  std::string short_message;
  std::size_t word_begin = 0;
  while (word_begin < message.size()) {
    const std::size_t word_end = std::min(message.find(' ', word_begin), message.size());
    std::string_view word = message.substr(word_begin, word_end - word_begin);
    if (const std::size_t slash = word.rfind('/'); slash != std::string_view::npos) {
      word = word.substr(slash + 1);
    }
    short_message.append(word);
    if (word_end < message.size()) short_message.push_back(' ');
    word_begin = word_end + 1;
  }
  return short_message;
}

}  // namespace broodpact::store
