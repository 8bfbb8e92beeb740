#pragma once

// What the server tells whoever runs it: one line an event, "time level event name=value ...".
//
// Never a secret, a code, a key, a certificate, or what keepers wrote: ids, counts, reasons and
// addresses only.

#include <initializer_list>
#include <mutex>
#include <optional>
#include <ostream>
#include <string>
#include <string_view>

#include "client/device/clock.h"

namespace broodpact::server {

enum class Level { kDebug, kInfo, kWarn, kError };

// Reads "debug", "info", "warn" or "error".
std::optional<Level> ParseLevel(std::string_view text);

struct Field {
  std::string_view name;
  std::string value;
};

// Thread-safe.
class Log {
 public:
  // `out` and `clock` outlive the log. Events below `least` are dropped.
  Log(std::ostream& out, Level least, const device::Clock& clock);

  void Write(Level level, std::string_view event, std::initializer_list<Field> fields) const;

 private:
  std::ostream& out_;
  Level least_;
  const device::Clock& clock_;
  mutable std::mutex mutex_;  // guards out_
};

}  // namespace broodpact::server
