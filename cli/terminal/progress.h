#pragma once

// Progress of long work: to the messages, only where a person reads them, after a quarter of a
// second, at most ten times a second.

#include <chrono>
#include <cstdint>
#include <string_view>

#include "cli/terminal/terminal.h"

namespace broodpact::cli {

class Progress {
 public:
  // `terminal` outlives the progress.
  explicit Progress(const Terminal& terminal)
      : terminal_(terminal), next_(std::chrono::steady_clock::now() + kPatience) {}

  // "Syncing 12,000 of 100,000", over what was there before.
  void Show(std::string_view what, std::uint64_t done, std::uint64_t total);

  // Takes the line away.
  void Clear();

 private:
  static constexpr std::chrono::milliseconds kPatience{250};
  static constexpr std::chrono::milliseconds kInterval{100};

  const Terminal& terminal_;
  std::chrono::steady_clock::time_point next_;
  bool shown_ = false;
};

}  // namespace broodpact::cli
