#pragma once

// A computer of the simulation: its disk, its clock, its folder, and how it dies.

#include <cstdint>
#include <filesystem>
#include <map>
#include <string>

#include "client/device/clock.h"
#include "tests/simulation/crash_disk.h"
#include "tests/simulation/dice.h"

namespace broodpact::simulation {

// A clock that is wrong by what is set.
class MachineClock final : public device::Clock {
 public:
  explicit MachineClock(const std::int64_t& world_ms) : world_ms_(world_ms) {}
  std::int64_t NowMillis() const override { return world_ms_ + ahead_ms_; }
  Day Today() const override { return DayOfMillis(NowMillis()); }
  void SetAhead(std::int64_t ms) { ahead_ms_ = ms; }
  std::int64_t ahead_ms() const { return ahead_ms_; }

 private:
  const std::int64_t& world_ms_;
  std::int64_t ahead_ms_ = 0;
};

class Machine {
 public:
  // `world_ms` is the true time, and outlives the machine.
  Machine(std::filesystem::path folder, const std::int64_t& world_ms);

  const std::filesystem::path& folder() const { return folder_; }
  CrashDisk& disk() { return disk_; }
  MachineClock& clock() { return clock_; }

  // After the dead process is gone: its folder is as it was at the instant of death, or as the disk
  // has it after a power loss.
  void Revive(Ending ending, Dice& dice);

 private:
  const std::filesystem::path folder_;
  MachineClock clock_;
  CrashDisk disk_;
  std::map<std::string, std::string> small_files_;  // at the instant of death
};

// Copies a folder whole, in the place of what was there.
void CopyFolder(const std::filesystem::path& from, const std::filesystem::path& to);

}  // namespace broodpact::simulation
