#include "client/registry/verdict.h"

#include "client/base/bytes.h"

namespace broodpact::registry {
namespace {

constexpr std::uint64_t kVerdictFormat = 1;

}  // namespace

std::string Encode(const Verdict& verdict) {
  std::string bytes;
  ByteWriter out(bytes);
  out.Unsigned(kVerdictFormat);
  out.Unsigned(static_cast<std::uint64_t>(verdict.kind));
  out.Text(verdict.reason);
  out.Text(verdict.message);
  out.Unsigned(verdict.winner_arrival);
  return bytes;
}

std::optional<Verdict> DecodeVerdict(std::string_view bytes) {
  ByteReader in(bytes);
  if (in.Unsigned() != kVerdictFormat) return std::nullopt;
  const std::uint64_t kind = in.Unsigned();
  Verdict verdict;
  verdict.reason = in.Text();
  verdict.message = in.Text();
  verdict.winner_arrival = in.Unsigned();
  if (!in.ok() || !in.at_end()) return std::nullopt;
  if (kind < static_cast<std::uint64_t>(VerdictKind::kCounted) ||
      kind > static_cast<std::uint64_t>(VerdictKind::kHeld)) {
    return std::nullopt;
  }
  verdict.kind = static_cast<VerdictKind>(kind);
  return verdict;
}

}  // namespace broodpact::registry
