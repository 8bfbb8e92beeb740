#include "cli/terminal/progress.h"

#include <fmt/format.h>

namespace broodpact::cli {

void Progress::Show(std::string_view what, std::uint64_t done, std::uint64_t total) {
  const auto now = std::chrono::steady_clock::now();
  if (!terminal_.messages_are_tty || now < next_) return;
  next_ = now + kInterval;
  shown_ = true;
  terminal_.messages << fmt::format("\r\x1b[K{} {} of {}", what, done, total) << std::flush;
}

void Progress::Clear() {
  if (shown_) terminal_.messages << "\r\x1b[K" << std::flush;
  shown_ = false;
}

}  // namespace broodpact::cli
