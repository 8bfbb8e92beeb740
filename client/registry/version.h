#pragma once

// Which version of a loan's agreement shares out a clutch. Versions are immutable: an amendment
// takes the place of the one before for what is laid from then on, and for the clutches laid before
// that it names.

#include <cstdint>
#include <optional>
#include <span>
#include <string_view>
#include <vector>

#include "client/base/day.h"
#include "client/base/hash.h"
#include "client/base/id.h"
#include "client/registry/subject.h"

namespace broodpact::registry {

// A version that is or was in force, as far as a split needs it. Valid while the loan is.
struct AgreedVersion {
  std::string_view agreement;           // the bytes that all parties signed
  std::span<const KeeperId> parties{};  // in the order of the terms
  std::int64_t in_force_time_ms = 0;
};

// The version of that digest; nothing if none of it was ever in force.
std::optional<AgreedVersion> VersionOf(const Loan& loan, const Hash& digest);

// Whether a version that is or was in force names the keeper.
bool IsPartyOf(const Loan& loan, const KeeperId& keeper);

// All who have to sign an amendment of a loan: the parties of the version in force, and those whom
// it adds. Each once.
std::vector<KeeperId> SignersOf(const Loan& loan, const LoanVersion& amendment);

// The digest of the version that was in force when a sac was laid: the last that was by the end of
// that day (UTC). If none was, the first there ever was, which was signed after the laying.
Hash VersionAt(const Loan& loan, const DaySpan& laying);

// The same for who took over a due: the version that it signed for it, whatever the day, or a later
// one that names it, since it has signed that too.
Hash VersionAt(const Loan& loan, const DaySpan& laying, const DueVersion& signed_for);

}  // namespace broodpact::registry
