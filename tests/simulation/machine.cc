#include "tests/simulation/machine.h"

#include <fstream>
#include <sstream>
#include <utility>

namespace broodpact::simulation {
namespace {

std::map<std::string, std::string> SmallFilesIn(const std::filesystem::path& folder) {
  std::map<std::string, std::string> files;
  for (const auto& entry : std::filesystem::directory_iterator(folder)) {
    if (!entry.is_regular_file()) continue;
    std::ostringstream bytes;
    bytes << std::ifstream(entry.path(), std::ios::binary).rdbuf();
    files[entry.path().filename().string()] = bytes.str();
  }
  return files;
}

}  // namespace

Machine::Machine(std::filesystem::path folder, const std::int64_t& world_ms)
    : folder_(std::move(folder)), clock_(world_ms) {
  std::filesystem::create_directories(folder_);
  disk_.on_death = [this] { small_files_ = SmallFilesIn(folder_); };
}

void Machine::Revive(Ending ending, Dice& dice) {
  for (const auto& [name, bytes] : SmallFilesIn(folder_)) {
    if (!small_files_.contains(name)) std::filesystem::remove(folder_ / name);
  }
  for (const auto& [name, bytes] : small_files_) {
    // Into the file that is there: its mode stays.
    std::ofstream(folder_ / name, std::ios::binary | std::ios::trunc) << bytes;
  }
  disk_.Revive(ending, dice);
}

void CopyFolder(const std::filesystem::path& from, const std::filesystem::path& to) {
  std::filesystem::remove_all(to);
  std::filesystem::copy(from, to, std::filesystem::copy_options::recursive);
}

}  // namespace broodpact::simulation
