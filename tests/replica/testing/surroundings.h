#pragma once

// A world that a test rules: a clock that stands until it is set, randomness that repeats, and a
// folder that goes away.

#include <atomic>
#include <filesystem>
#include <random>
#include <string>

#include "client/base/day.h"
#include "client/device/clock.h"
#include "client/device/random.h"

namespace broodpact::testing {

// Stands at 2026-11-25, 09:00 UTC, until it is moved.
class FakeClock final : public device::Clock {
 public:
  std::int64_t NowMillis() const override { return now_ms_; }
  Day Today() const override { return DayOfMillis(now_ms_); }

  void Advance(std::int64_t ms) { now_ms_ += ms; }
  void AdvanceDays(int days) { now_ms_ += std::int64_t{days} * 86'400'000; }

 private:
  std::atomic<std::int64_t> now_ms_ = 1'795'597'200'000;
};

// The same bytes in every run of a test.
class SeededRandomness final : public device::Randomness {
 public:
  explicit SeededRandomness(std::uint32_t seed = 1) : engine_(seed) {}

  std::string Bytes(std::size_t size) override {
    std::string bytes(size, '\0');
    for (char& byte : bytes) byte = static_cast<char>(engine_() & 0xFF);
    return bytes;
  }

 private:
  std::mt19937 engine_;
};

// A fresh folder of this process, removed at the end.
class TempFolder {
 public:
  TempFolder();
  ~TempFolder();
  TempFolder(const TempFolder&) = delete;
  TempFolder& operator=(const TempFolder&) = delete;

  const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

// A day that is well-formed, as a test writes it.
DaySpan On(std::string_view text);
Day DayOn(std::string_view text);

}  // namespace broodpact::testing
