// Versions of an agreement: LoanAmendment, and signatures and refusals of one.

#include <algorithm>
#include <utility>

#include "fmt/core.h"

#include "client/registry/internal/amendment.h"
#include "client/registry/internal/basis.h"

namespace broodpact::registry {
namespace {

bool Names(const std::vector<KeeperId>& keepers, const KeeperId& keeper) {
  return std::find(keepers.begin(), keepers.end(), keeper) != keepers.end();
}

std::string_view Word(VersionState state) {
  switch (state) {
    case VersionState::kOpen:
      return "open";
    case VersionState::kDeclined:
      return "declined";
    case VersionState::kSuperseded:
      return "superseded: another amendment was in force first";
    case VersionState::kReplaced:
      return "replaced by a later version";
  }
  return "";
}

std::string Short(const Hash& digest) {
  return ToHex(digest).substr(0, 8);
}

// The parties of a clutch under another version: who stands in a party's place keeps that place.
std::vector<PartyShare> SeatsUnder(const facts::Agreement& agreement, const Clutch& clutch) {
  std::vector<PartyShare> seats;
  for (const facts::Party& party : agreement.terms.parties) {
    const auto seat =
        std::find_if(clutch.parties.begin(), clutch.parties.end(),
                     [&](const PartyShare& share) { return share.party == party.keeper; });
    seats.push_back(seat != clutch.parties.end()
                        ? *seat
                        : PartyShare{.party = party.keeper, .receiver = party.keeper});
  }
  return seats;
}

// All who share the clutch sign, and its owner still has a share in it.
Finding CheckSeats(Case& c, const Loan& loan, const facts::Agreement& agreement,
                   const Clutch& clutch) {
  const std::vector<PartyShare> seats = SeatsUnder(agreement, clutch);
  const auto signs = [&](const KeeperId& keeper) {
    return Names(loan.parties, keeper) ||
           std::any_of(seats.begin(), seats.end(),
                       [&](const PartyShare& seat) { return seat.party == keeper; });
  };
  for (const PartyShare& share : clutch.parties) {
    const KeeperId& missing = signs(share.party) ? share.receiver : share.party;
    if (signs(missing)) continue;
    return Refused("PARTY_MISSING",
                   fmt::format("{} has a share in {} and would not sign; make it a party",
                               NameOf(c, missing), NameOf(clutch)));
  }
  const bool owner_has_seat = std::any_of(seats.begin(), seats.end(), [&](const PartyShare& seat) {
    return seat.receiver == clutch.owner;
  });
  if (owner_has_seat) return std::nullopt;
  return Refused("OWNER_NOT_PARTY", fmt::format("{}, who owns {}, is no party of this version",
                                                NameOf(c, clutch.owner), NameOf(clutch)));
}

// The clutches that an amendment names are still to be shared out by this loan.
Finding CheckClutches(Case& c, const Loan& loan, const facts::Agreement& agreement) {
  for (const ClutchId& id : agreement.clutches) {
    const Clutch* clutch = c.state.Find<Clutch>(id);
    if (clutch == nullptr) return UnknownSubject("clutch", id.bytes);
    if (clutch->loan != loan.id) {
      return Refused("CLUTCH_OTHER",
                     fmt::format("{} is not shared out by {}", NameOf(*clutch), NameOf(loan)));
    }
    if (clutch->shared_out) {
      return Superseded("ALREADY_SHARED",
                        fmt::format("{} has been shared out by {} before", NameOf(*clutch),
                                    NameOf(c, clutch->split.keeper)),
                        clutch->split.arrival);
    }
    if (Finding f = CheckSeats(c, loan, agreement, *clutch)) return f;
  }
  return std::nullopt;
}

// It takes the place of the version in force.
Finding CheckBase(const Loan& loan, const facts::Agreement& agreement) {
  if (agreement.replaces == loan.agreement_digest) return std::nullopt;
  const bool was_in_force =
      std::any_of(loan.versions.begin(), loan.versions.end(), [&](const LoanVersion& version) {
        return version.digest == agreement.replaces && version.state == VersionState::kReplaced;
      });
  if (was_in_force) {
    return Superseded("VERSION_REPLACED",
                      fmt::format("the version of {} that this amends was replaced before; read "
                                  "the one in force and amend that",
                                  NameOf(loan)),
                      loan.in_force_arrival);
  }
  return Refused("DIGEST_OTHER", fmt::format("what this amends is no version of {}; read the one "
                                             "in force and amend that",
                                             NameOf(loan)));
}

// So many versions were in force, and so many did not get there of one proposer: nobody keeps the
// others from amending by filling the list.
Finding CheckVersions(Case& c, const Loan& loan) {
  std::size_t replaced = 0;
  std::size_t own = 0;
  for (const LoanVersion& version : loan.versions) {
    if (version.state == VersionState::kReplaced) {
      ++replaced;
    } else if (version.signatures.front().keeper == c.author()) {
      ++own;
    }
  }
  if (replaced < kVersionsMax && own < kAmendmentsOfOneMax) return std::nullopt;
  return Refused(
      "TOO_MANY_RECORDS",
      replaced < kVersionsMax
          ? fmt::format("you have proposed {} amendments of {} that are not in force, and "
                        "have no room for more; let another party propose it",
                        own, NameOf(loan))
          : fmt::format("{} has had {} versions, and no room for more; propose a new loan",
                        NameOf(loan), replaced));
}

Finding CheckAmendment(Case& c, const Loan& loan, const facts::LoanAmendment& s) {
  const facts::Agreement& agreement = s.parsed;
  if (!Names(loan.parties, c.author())) {
    return Void("NOT_PARTY", fmt::format("you are no party of {}", NameOf(loan)));
  }
  if (loan.state != LoanState::kInForce && loan.state != LoanState::kClosed) {
    return Refused("LOAN_STATE",
                   fmt::format("{} was never in force; propose a new one instead", NameOf(loan)));
  }
  if (agreement.cooperative != c.state.cooperative()->id || agreement.animal != loan.animal ||
      agreement.lender != loan.lender || agreement.borrower != loan.borrower) {
    return Refused("AMENDMENT_OTHER",
                   fmt::format("an amendment of {} is about the same animal, lender and borrower",
                               NameOf(loan)));
  }
  if (Finding f = CheckBase(loan, agreement)) return f;
  for (const facts::Party& party : agreement.terms.parties) {
    if (IsKeeper(c, party.keeper)) continue;
    return Refused("UNKNOWN_PARTY",
                   fmt::format("{} is no keeper of this cooperative", NameOf(c, party.keeper)));
  }
  if (Finding f = CheckTermsNames(c, agreement.terms)) return f;
  return CheckClutches(c, loan, agreement);
}

// Puts an amendment that all have signed in the place of the version in force.
void PutInForce(Case& c, Loan& loan, std::size_t index, const facts::Agreement& agreement) {
  LoanVersion next = std::move(loan.versions[index]);
  loan.versions.erase(loan.versions.begin() + static_cast<std::ptrdiff_t>(index));
  for (LoanVersion& other : loan.versions) {
    if (other.state != VersionState::kOpen) continue;
    other.state = VersionState::kSuperseded;
    other.ended = c.entry;
  }
  loan.versions.push_back({.agreement = std::move(loan.agreement),
                           .digest = loan.agreement_digest,
                           .state = VersionState::kReplaced,
                           .parties = std::move(loan.parties),
                           .signatures = std::move(loan.signatures),
                           .open_until = loan.open_until,
                           .in_force_arrival = loan.in_force_arrival,
                           .in_force_time_ms = loan.in_force_time_ms,
                           .reason = {},
                           .ended = c.entry});
  loan.agreement = std::move(next.agreement);
  loan.agreement_digest = next.digest;
  loan.parties = std::move(next.parties);
  loan.signatures = std::move(next.signatures);
  loan.open_until = next.open_until;
  loan.in_force_arrival = c.entry.arrival;
  // Never before what it replaces.
  loan.in_force_time_ms = std::max(loan.in_force_time_ms, LastSigned(loan.signatures));
  loan.return_day = agreement.return_day;
}

// What came too late: the clash is everybody's who signed either.
Finding TooLate(Case& c, const Loan& loan, const LoanVersion& amendment) {
  const std::string message = fmt::format("version {} of {} is {}", Short(amendment.digest),
                                          NameOf(loan), Word(amendment.state));
  const bool was_last = amendment.signatures.size() + 1 == SignersOf(loan, amendment).size();
  if (amendment.state == VersionState::kSuperseded && was_last) {
    std::vector<KeeperId> parties = SignersOf(loan, amendment);
    c.aftermath.clash = ClashOf(c, {.kind = Kind::kLoan,
                                    .subject = loan.id.bytes,
                                    .reason = "VERSION_REPLACED",
                                    .message = message,
                                    .parties = std::move(parties),
                                    .winner_arrival = amendment.ended.arrival});
  }
  return Superseded("VERSION_REPLACED", message, amendment.ended.arrival);
}

}  // namespace

std::int64_t LastSigned(const std::vector<SignatureRecord>& signatures) {
  std::int64_t last = 0;
  for (const SignatureRecord& record : signatures) last = std::max(last, record.entry.time_ms);
  return last;
}

std::optional<std::size_t> AmendmentOf(const Loan& loan, const Hash& digest) {
  for (std::size_t i = loan.versions.size(); i-- > 0;) {
    if (loan.versions[i].digest == digest) return i;
  }
  return std::nullopt;
}

Finding CheckStillOpen(const Case& c, std::optional<Day> open_until, std::string_view what) {
  if (!open_until.has_value() || DayOfMillis(c.entry.time_ms) <= *open_until) return std::nullopt;
  return Superseded("OFFER_EXPIRED",
                    fmt::format("{} was open for signatures until {}; propose it again", what,
                                ToText(*open_until)),
                    0);
}

Finding SignAmendment(Case& c, const LoanId& id, std::size_t index) {
  const Loan& loan = Known<Loan>(c, id);
  const LoanVersion& amendment = loan.versions[index];
  const std::vector<KeeperId> signers = SignersOf(loan, amendment);
  if (!Names(signers, c.author())) {
    return Void("NOT_PARTY", fmt::format("you are no party of {}", NameOf(loan)));
  }
  if (HasSigned(amendment.signatures, c.author())) return std::nullopt;
  if (amendment.state != VersionState::kOpen) return TooLate(c, loan, amendment);
  const std::string what = fmt::format("version {} of {}", Short(amendment.digest), NameOf(loan));
  if (Finding f = CheckStillOpen(c, amendment.open_until, what)) return f;

  const bool last = amendment.signatures.size() + 1 == signers.size();
  facts::Agreement agreement;
  if (last) {
    absl::StatusOr<facts::Agreement> parsed = facts::ParseAgreement(amendment.agreement);
    if (!parsed.ok()) {
      return Refused("AGREEMENT_UNREADABLE", fmt::format("{} cannot be read", what));
    }
    agreement = *std::move(parsed);
    if (Finding f = CheckClutches(c, loan, agreement)) return f;
  }
  Loan& changed = c.state.Edit<Loan>(id);
  changed.versions[index].signatures.push_back({.keeper = c.author(), .entry = c.entry});
  if (!last) return std::nullopt;
  PutInForce(c, changed, index, agreement);
  const Hash digest = changed.agreement_digest;
  for (const ClutchId& clutch_id : agreement.clutches) {
    Clutch& clutch = c.state.Edit<Clutch>(clutch_id);
    clutch.parties = SeatsUnder(agreement, clutch);
    clutch.agreement = digest;
  }
  return std::nullopt;
}

Finding RefuseAmendment(Case& c, const facts::LoanRefusal& s, std::size_t index) {
  const Loan& loan = Known<Loan>(c, s.loan);
  const LoanVersion& amendment = loan.versions[index];
  if (!Names(SignersOf(loan, amendment), c.author())) {
    return Void("NOT_PARTY", fmt::format("you are no party of {}", NameOf(loan)));
  }
  if (amendment.state != VersionState::kOpen) {
    return Superseded("VERSION_REPLACED",
                      fmt::format("version {} of {} is {}", Short(amendment.digest), NameOf(loan),
                                  Word(amendment.state)),
                      amendment.ended.arrival);
  }
  LoanVersion& declined = c.state.Edit<Loan>(s.loan).versions[index];
  declined.state = VersionState::kDeclined;
  declined.reason = s.reason;
  declined.ended = c.entry;
  return std::nullopt;
}

Finding Apply(Case& c, const facts::LoanAmendment& s) {
  const Loan* loan = c.state.Find<Loan>(s.parsed.loan);
  if (loan == nullptr) return UnknownSubject("loan", s.parsed.loan.bytes);
  if (Finding f = CheckAmendment(c, *loan, s)) return f;

  const std::optional<std::size_t> same = AmendmentOf(*loan, s.agreement_digest);
  // What was declined may be proposed again; it begins anew.
  const bool again = same.has_value() && loan->versions[*same].state == VersionState::kDeclined;
  if (same.has_value() && !again) return SignAmendment(c, loan->id, *same);
  if (!again) {
    if (Finding f = CheckVersions(c, *loan)) return f;
  }

  LoanVersion version{.agreement = s.agreement,
                      .digest = s.agreement_digest,
                      .state = VersionState::kOpen,
                      .parties = {},
                      .signatures = {{.keeper = c.author(), .entry = c.entry}},
                      .open_until = s.open_until,
                      .reason = {},
                      .ended = {}};
  for (const facts::Party& party : s.parsed.terms.parties) version.parties.push_back(party.keeper);
  Loan& amended = c.state.Edit<Loan>(s.parsed.loan);
  if (again) amended.versions.erase(amended.versions.begin() + static_cast<std::ptrdiff_t>(*same));
  amended.versions.push_back(std::move(version));
  return std::nullopt;
}

}  // namespace broodpact::registry
