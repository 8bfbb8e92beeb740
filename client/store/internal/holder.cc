#include "client/store/internal/holder.h"

#include <array>
#include <chrono>
#include <ctime>
#include <fstream>
#include <string_view>
#include <system_error>

#include <fmt/format.h>

#include <unistd.h>

namespace broodpact::store {
namespace {

// Replaces a file, so that a reader sees the old line or the new one.
void ReplaceLine(const std::filesystem::path& file, const std::string& line) {
  std::filesystem::path neighbour = file;
  neighbour += ".new";
  {
    std::ofstream out(neighbour, std::ios::trunc | std::ios::binary);
    out << line << '\n';
    out.close();
    if (!out) return;
  }
  std::error_code error;
  std::filesystem::rename(neighbour, file, error);
}

std::string ProgramName() {
  std::ifstream comm("/proc/self/comm");
  std::string name;
  std::getline(comm, name);
  return name.empty() ? "broodpact" : name;
}

std::string TimeOfDay(std::int64_t time_ms) {
  const std::time_t seconds = time_ms / 1000;
  std::tm local{};
  if (localtime_r(&seconds, &local) == nullptr) return "an unknown time";
  std::array<char, 32> text{};
  const std::size_t size = std::strftime(text.data(), text.size(), "%H:%M", &local);
  return {text.data(), size};
}

}  // namespace

void WriteHolder(const std::filesystem::path& folder) {
  const auto now =
      std::chrono::time_point_cast<std::chrono::milliseconds>(std::chrono::system_clock::now());
  ReplaceLine(folder / "holder",
              fmt::format("{} {} {}", getpid(), now.time_since_epoch().count(), ProgramName()));
}

void RemoveHolder(const std::filesystem::path& folder) {
  std::error_code error;
  std::filesystem::remove(folder / "holder", error);
}

std::string HolderText(const std::filesystem::path& folder) {
  std::ifstream in(folder / "holder");
  std::int64_t process = 0;
  std::int64_t since_ms = 0;
  std::string program;
  if (!(in >> process >> since_ms >> program)) return "another process";
  return fmt::format("another {} (process {}, since {})", program, process, TimeOfDay(since_ms));
}

void WriteHeadFile(const std::filesystem::path& folder, const facts::LogPoint& point) {
  ReplaceLine(folder / "head", fmt::format("{} {}", point.arrivals, ToHex(point.log_hash)));
}

std::optional<facts::LogPoint> ReadHeadFile(const std::filesystem::path& folder) {
  std::ifstream in(folder / "head");
  facts::LogPoint point;
  std::string hex;
  if (!(in >> point.arrivals >> hex)) return std::nullopt;
  const std::optional<std::string> bytes = HexToBytes(hex);
  const std::optional<Hash> hash = bytes.has_value() ? HashOfBytes(*bytes) : std::nullopt;
  if (!hash.has_value()) return std::nullopt;
  point.log_hash = *hash;
  return point;
}

}  // namespace broodpact::store
