#include "client/replica/internal/gate.h"

#include <chrono>
#include <thread>
#include <utility>

#include "client/base/status.h"
#include <fcntl.h>
#include <sys/file.h>
#include <unistd.h>

namespace broodpact::replica {
namespace {

constexpr std::chrono::milliseconds kPause{20};
constexpr int kPausesMax = 500;  // ten seconds; what is done in the gate takes parts of one

}  // namespace

absl::StatusOr<Gate> Gate::Take(const Home& home) {
  const int file =
      ::open((home.folder() / "gate").c_str(), O_RDWR | O_CREAT | O_CLOEXEC, S_IRUSR | S_IWUSR);
  if (file < 0) {
    return Fail(absl::StatusCode::kUnavailable, "FILE_WRITE",
                "the file `gate` in the folder of this keeper cannot be opened; see whether the "
                "folder is yours, and its disk not full");
  }
  Gate gate(file);
  for (int pauses = 0; ::flock(file, LOCK_EX | LOCK_NB) != 0; ++pauses) {
    if (pauses == kPausesMax) {
      return Fail(absl::StatusCode::kUnavailable, "REPLICA_BUSY",
                  "another process is opening this replica; try again");
    }
    std::this_thread::sleep_for(kPause);
  }
  return gate;
}

Gate::Gate(Gate&& other) noexcept : file_(std::exchange(other.file_, -1)) {}

Gate::~Gate() {
  if (file_ >= 0) ::close(file_);
}

}  // namespace broodpact::replica
