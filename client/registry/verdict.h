#pragma once

// What the fold made of a commit. Final once the commit has its place in the log.

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace broodpact::registry {

enum class VerdictKind : std::uint8_t {
  kCounted = 1,     // it has its effect
  kSuperseded = 2,  // what it spends was spent before
  kRefused = 3,     // it cannot be, for a reason
  kVoid = 4,        // its author may not say that
  kHeld = 5,        // it holds a kind of statement that this replica does not know yet
};

struct Verdict {
  VerdictKind kind = VerdictKind::kCounted;
  std::string reason{};   // UPPER_SNAKE_CASE; all are listed in RULES.md. Empty: plainly counted
  std::string message{};  // one sentence for its author
  std::uint64_t winner_arrival = 0;  // what beat it; 0: nothing, or something provisional

  friend bool operator==(const Verdict&, const Verdict&) = default;
};

std::string Encode(const Verdict& verdict);
std::optional<Verdict> DecodeVerdict(std::string_view bytes);

}  // namespace broodpact::registry
