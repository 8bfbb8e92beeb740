#include "client/replica/waiting.h"

#include <algorithm>
#include <optional>
#include <set>
#include <utility>

#include "client/base/status.h"
#include "client/facts/terms.h"
#include "client/registry/index.h"
#include "client/registry/version.h"
#include "client/replica/internal/bulk.h"

namespace broodpact::replica {
namespace {

constexpr std::size_t kSubjectsMax = 10'000;  // bounds what a status costs
constexpr std::size_t kVersionSize = 8;       // hexadecimal digits

std::vector<KeeperId> MissingFor(const registry::LoanVersion& version, const registry::Loan& loan) {
  std::vector<KeeperId> missing = registry::SignersOf(loan, version);
  std::erase_if(missing, [&](const KeeperId& signer) {
    return registry::HasSigned(version.signatures, signer);
  });
  return missing;
}

// The witness whom the terms of a clutch name, where the count that stands lacks his word.
KeeperId MissingWitness(const registry::Clutch& clutch, const registry::Loan& loan) {
  const auto version = registry::VersionOf(loan, clutch.agreement);
  if (!version) return {};
  const absl::StatusOr<facts::Agreement> agreement = facts::ParseAgreement(version->agreement);
  if (!agreement.ok()) return {};
  const KeeperId& witness = agreement->terms.counting.witness;
  const auto count = std::ranges::find(clutch.counts, registry::CountState::kStanding,
                                       &registry::CountRecord::state);
  const bool confirmed = count != clutch.counts.end() && count->witness == witness;
  return confirmed ? KeeperId{} : witness;
}

absl::StatusOr<Unsplit> Of(const registry::Source& source, const registry::Clutch& clutch,
                           Day day) {
  Unsplit unsplit{.id = clutch.id,
                  .name = clutch.name.empty() ? ToShortText(clutch.id) : clutch.name,
                  .slings = clutch.accounts.undivided,
                  .shared_before = clutch.shared_out};
  if (clutch.loan.empty()) return unsplit;
  BP_ASSIGN_OR_RETURN(const std::optional<registry::Loan> loan,
                      registry::Read<registry::Loan>(source, clutch.loan));
  if (!loan) return unsplit;
  unsplit.witness = MissingWitness(clutch, *loan);
  unsplit.amendments = OpenAmendmentsOf(*loan, day);
  std::erase_if(unsplit.amendments, [&](const OpenAmendment& one) {
    return std::ranges::find(one.clutches, clutch.id) == one.clutches.end();
  });
  return unsplit;
}

// The clutches that are counted and not shared out, of all keepers: a witness need have no share.
absl::StatusOr<std::vector<registry::Clutch>> ClutchesWaiting(const registry::Source& source) {
  BP_ASSIGN_OR_RETURN(const std::vector<ClutchId> ids,
                      IdsBehind<ClutchId>(source, registry::AllClutchesToShare(), kSubjectsMax));
  const std::set<ClutchId> each(ids.begin(), ids.end());
  return ReadMany<registry::Clutch>(source, std::vector<ClutchId>(each.begin(), each.end()));
}

}  // namespace

std::vector<OpenAmendment> OpenAmendmentsOf(const registry::Loan& loan, Day day) {
  std::vector<OpenAmendment> open;
  for (const registry::LoanVersion& version : loan.versions) {
    const bool expired = version.open_until && *version.open_until < day;
    if (version.state != registry::VersionState::kOpen || expired) continue;
    OpenAmendment& one = open.emplace_back();
    one.loan = loan.id;
    one.digest = version.digest;
    if (!version.signatures.empty()) {
      one.proposer = version.signatures.front().keeper;
      one.time_ms = version.signatures.front().entry.time_ms;
    }
    one.missing = MissingFor(version, loan);
    const absl::StatusOr<facts::Agreement> agreement = facts::ParseAgreement(version.agreement);
    if (agreement.ok()) one.clutches = agreement->clutches;
  }
  for (OpenAmendment& one : open) one.open = open.size();
  return open;
}

absl::StatusOr<std::vector<OpenAmendment>> AmendmentsFor(const registry::Source& source,
                                                         const KeeperId& keeper, Day day) {
  BP_ASSIGN_OR_RETURN(
      const std::vector<LoanId> ids,
      IdsBehind<LoanId>(source, registry::AmendmentsAwaiting(keeper), kSubjectsMax));
  BP_ASSIGN_OR_RETURN(const auto loans, ReadMany<registry::Loan>(source, ids));
  std::vector<OpenAmendment> waiting;
  for (const registry::Loan& loan : loans) {
    for (OpenAmendment& one : OpenAmendmentsOf(loan, day)) {
      const bool is_missing = std::ranges::find(one.missing, keeper) != one.missing.end();
      if (is_missing) waiting.push_back(std::move(one));
    }
  }
  return waiting;
}

std::string VersionText(const Hash& digest) {
  return ToHex(digest).substr(0, kVersionSize);
}

absl::StatusOr<std::vector<Unsplit>> UnsplitOf(const registry::Source& source,
                                               const KeeperId& keeper, Day day) {
  BP_ASSIGN_OR_RETURN(const auto clutches, ClutchesWaiting(source));
  std::vector<Unsplit> unsplit;
  for (const registry::Clutch& clutch : clutches) {
    if (clutch.accounts.undivided == 0) continue;
    BP_ASSIGN_OR_RETURN(Unsplit one, Of(source, clutch, day));
    const bool has_share =
        std::ranges::find(clutch.parties, keeper, &registry::PartyShare::receiver) !=
        clutch.parties.end();
    if (has_share || one.witness == keeper) unsplit.push_back(std::move(one));
  }
  return unsplit;
}

}  // namespace broodpact::replica
