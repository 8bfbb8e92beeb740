#pragma once

// One process at a time opens a replica's folder for writing, or changes which folder that is: a
// lock on a file that never moves, held for that moment alone. RocksDB's own lock goes with the
// folder, so whoever was about to take it would have the wrong one.

#include "absl/status/statusor.h"

#include "client/replica/home.h"

namespace broodpact::replica {

class Gate {
 public:
  // Waits for whoever is in it, some seconds at most.
  // Errors: UNAVAILABLE with reason REPLICA_BUSY or FILE_WRITE.
  static absl::StatusOr<Gate> Take(const Home& home);
  Gate(Gate&& other) noexcept;
  Gate& operator=(Gate&&) = delete;
  ~Gate();  // lets go, as the end of the process does

 private:
  explicit Gate(int file) : file_(file) {}

  int file_ = -1;
};

}  // namespace broodpact::replica
