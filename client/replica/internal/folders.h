#pragma once

// The replica's two folders: the one that it works on, and the one in which the history is fetched
// that a snapshot left out. Once that one is whole, it takes the other one's place, by two renames;
// a process that ends between them is finished by the next opening.
//
//   replica/         what the keeper works on
//   history/         what is being fetched; after the first rename, what is to be worked on
//   replica.before/  between the renames and for a moment after them, what was worked on

#include <filesystem>
#include <functional>

#include "absl/status/statusor.h"

#include "client/replica/home.h"
#include "client/store/store.h"

namespace broodpact::replica {

// Puts the history in the place of the replica. Both are closed. `check` is asked once nobody else
// can write to the replica any more: its error leaves all as it is.
// Errors: those of `check`; UNAVAILABLE with reason REPLICA_BUSY (another process has opened the
// replica: nothing is changed) or FILE_WRITE (the next opening goes on).
absl::Status ChangeFolders(const Home& home, store::Disk* disk,
                           const std::function<absl::Status()>& check);

// Finishes a change that was cut off.
// Errors: as ChangeFolders.
absl::Status FinishChange(const Home& home, store::Disk* disk);

// The folder to read from, where nothing may be finished.
std::filesystem::path FolderToRead(const Home& home);

}  // namespace broodpact::replica
