#pragma once

// A disk that fails at a chosen write, and a machine that loses what was not synced: what RocksDB
// writes goes through it to real files. Small private files are written whole and durable, or not
// at all (device/private_file.h), so they need no such care: `on_death` lets the owner remember
// them as they are at that instant.

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>

#include "client/store/store.h"
#include "tests/simulation/dice.h"

namespace broodpact::simulation {

// How a process ends.
enum class Ending {
  kKilled,     // what was written stays
  kPowerLoss,  // what was written and not synced is lost, or is there up to any byte
};

Ending AnyEnding(Dice& dice);

class CrashDisk {
 public:
  CrashDisk();
  ~CrashDisk();
  CrashDisk(const CrashDisk&) = delete;
  CrashDisk& operator=(const CrashDisk&) = delete;

  store::Disk& disk();

  // Called at the instant of death, on the thread that wrote.
  std::function<void()> on_death;

  // The process dies at the write of log bytes that is `writes` from now (0: the next one), of
  // which a part may be written.
  void DieAfter(std::uint32_t writes, std::uint64_t torn_seed);
  // It does not die by itself any more.
  void Disarm();
  // It dies now.
  void Die();
  bool dead() const;

  // After the dead process is gone: lets files be as the machine finds them, and serves the next
  // process.
  void Revive(Ending ending, Dice& dice);

  // A disk that says it has synced and has not, for tests of the simulation itself.
  void LieAboutSyncs();

 private:
  struct State;
  class Files;
  std::shared_ptr<State> state_;
  std::unique_ptr<store::Disk> disk_;
};

}  // namespace broodpact::simulation
