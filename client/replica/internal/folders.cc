#include "client/replica/internal/folders.h"

#include <memory>
#include <system_error>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/device/private_file.h"
#include "client/store/folder_lock.h"

namespace broodpact::replica {
namespace {

bool IsThere(const std::filesystem::path& folder) {
  std::error_code ignored;  // what cannot be looked at cannot be renamed, and that says why
  return std::filesystem::is_directory(folder, ignored);
}

// Whether a database was ever opened there.
bool IsDatabase(const std::filesystem::path& folder) {
  std::error_code ignored;
  return std::filesystem::exists(folder / "db" / "CURRENT", ignored);
}

// Renames a folder, durably.
absl::Status MoveFolder(const std::filesystem::path& from, const std::filesystem::path& to) {
  std::error_code error;
  std::filesystem::rename(from, to, error);
  if (!error) {
    device::FlushFolder(to.parent_path());
    return absl::OkStatus();
  }
  return Fail(absl::StatusCode::kUnavailable, "FILE_WRITE",
              fmt::format("the folder {} cannot be put in its place: {}", from.filename().string(),
                          error.message()));
}

// What is not needed any more takes space, and nothing else.
void Remove(const std::filesystem::path& folder) {
  std::error_code ignored;
  std::filesystem::remove_all(folder, ignored);
}

}  // namespace

absl::Status ChangeFolders(const Home& home, store::Disk* disk,
                           const std::function<absl::Status()>& check) {
  {
    // Whoever comes between the renames finds the folder that this lock goes with.
    BP_ASSIGN_OR_RETURN(const std::unique_ptr<store::FolderLock> lock,
                        store::FolderLock::Take(home.database(), disk));
    BP_RETURN_IF_ERROR(check());
    Remove(home.database_before());
    BP_RETURN_IF_ERROR(MoveFolder(home.database(), home.database_before()));
    if (absl::Status moved = MoveFolder(home.history(), home.database()); !moved.ok()) {
      // Where this fails too, the next opening goes on.
      MoveFolder(home.database_before(), home.database()).IgnoreError();
      return moved;
    }
  }
  Remove(home.database_before());
  return absl::OkStatus();
}

absl::Status FinishChange(const Home& home, store::Disk* disk) {
  if (!IsThere(home.database_before())) return absl::OkStatus();
  if (!IsThere(home.database())) {
    BP_ASSIGN_OR_RETURN(const std::unique_ptr<store::FolderLock> lock,
                        store::FolderLock::Take(home.database_before(), disk));
    const bool whole = IsThere(home.history());
    return MoveFolder(whole ? home.history() : home.database_before(), home.database());
  }
  // Only beside a database that is one, and has come from the history.
  if (IsDatabase(home.database()) && !IsThere(home.history())) Remove(home.database_before());
  return absl::OkStatus();
}

std::filesystem::path FolderToRead(const Home& home) {
  const bool between = !IsThere(home.database()) && IsThere(home.database_before());
  return between && IsThere(home.history()) ? home.history() : home.database();
}

}  // namespace broodpact::replica
