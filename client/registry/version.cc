#include "client/registry/version.h"

namespace broodpact::registry {

std::optional<AgreedVersion> VersionOf(const Loan& loan, const Hash& digest) {
  if (loan.agreement_digest == digest && loan.in_force_time_ms != 0) {
    return AgreedVersion{.agreement = loan.agreement,
                         .parties = loan.parties,
                         .in_force_time_ms = loan.in_force_time_ms};
  }
  for (const LoanVersion& version : loan.versions) {
    if (version.digest != digest || version.state != VersionState::kReplaced) continue;
    return AgreedVersion{.agreement = version.agreement,
                         .parties = version.parties,
                         .in_force_time_ms = version.in_force_time_ms};
  }
  return std::nullopt;
}

Hash VersionAt(const Loan& loan, const DaySpan& laying) {
  const auto in_force_by_then = [&](std::int64_t time_ms) {
    return DayOfMillis(time_ms) <= laying.latest;
  };
  std::optional<Hash> digest;
  for (const LoanVersion& version : loan.versions) {
    if (version.state != VersionState::kReplaced) continue;
    if (!digest.has_value() || in_force_by_then(version.in_force_time_ms)) digest = version.digest;
  }
  if (!digest.has_value() || in_force_by_then(loan.in_force_time_ms)) return loan.agreement_digest;
  return *digest;
}

}  // namespace broodpact::registry
