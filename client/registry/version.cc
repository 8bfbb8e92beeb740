#include "client/registry/version.h"

#include <algorithm>
#include <vector>

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

bool IsPartyOf(const Loan& loan, const KeeperId& keeper) {
  const auto names = [&](const std::vector<KeeperId>& parties) {
    return std::find(parties.begin(), parties.end(), keeper) != parties.end();
  };
  if (names(loan.parties)) return true;
  return std::any_of(loan.versions.begin(), loan.versions.end(), [&](const LoanVersion& version) {
    return version.state == VersionState::kReplaced && names(version.parties);
  });
}

std::vector<KeeperId> SignersOf(const Loan& loan, const LoanVersion& amendment) {
  std::vector<KeeperId> signers = loan.parties;
  for (const KeeperId& party : amendment.parties) {
    if (std::ranges::find(signers, party) == signers.end()) signers.push_back(party);
  }
  return signers;
}

Hash VersionAt(const Loan& loan, const DaySpan& laying) {
  return VersionAt(loan, laying, DueVersion{});
}

Hash VersionAt(const Loan& loan, const DaySpan& laying, const DueVersion& signed_for) {
  std::optional<Hash> digest;
  bool is_later = false;  // than what was signed for a due
  const auto consider = [&](const Hash& version, const std::vector<KeeperId>& parties,
                            std::int64_t in_force_time_ms) {
    const bool is_signed = version == signed_for.agreement;
    const bool binds = !is_later || std::ranges::find(parties, signed_for.keeper) != parties.end();
    const bool by_then = DayOfMillis(in_force_time_ms) <= laying.latest;
    if (is_signed || (binds && (by_then || !digest.has_value()))) digest = version;
    is_later = is_later || is_signed;
  };
  for (const LoanVersion& version : loan.versions) {
    if (version.state != VersionState::kReplaced) continue;
    consider(version.digest, version.parties, version.in_force_time_ms);
  }
  consider(loan.agreement_digest, loan.parties, loan.in_force_time_ms);
  return digest.value_or(loan.agreement_digest);
}

}  // namespace broodpact::registry
