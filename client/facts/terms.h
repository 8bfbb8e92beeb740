#pragma once

// What the parties of a loan agree on, as values. proto/broodpact/v1/terms.proto says what each
// field means; here every value is already within its bounds.

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/status.h"
#include "absl/status/statusor.h"

#include "client/base/day.h"
#include "client/base/hash.h"
#include "client/base/id.h"

namespace broodpact {

using FormId = Id<struct FormKind>;    // terms under a name
using CarryId = Id<struct CarryKind>;  // what carries over between the same parties, by its digest

}  // namespace broodpact

namespace broodpact::facts {

inline constexpr std::size_t kPartiesMax = 16;
inline constexpr std::size_t kClaimsMax = 16;
inline constexpr std::size_t kFemalesMax = 16;
inline constexpr std::size_t kLaterSharesMax = 4;
inline constexpr std::size_t kSireOwnersMax = 16;  // who divide the part of the males' owners
inline constexpr std::uint32_t kSlingsMax = 1'000'000;
inline constexpr std::uint32_t kWeightMax = 1'000'000;
inline constexpr std::uint32_t kBasisPointsMax = 10'000;
inline constexpr std::uint32_t kSacsMax = 100;            // where a clause counts sacs
inline constexpr std::uint32_t kClauseNumberMax = 1'000;  // pairings, hours, days to replace
inline constexpr std::uint32_t kNoSacDaysMax = 2'000;
inline constexpr std::size_t kAgreementBytesMax = 8'192;
inline constexpr std::size_t kAmendedClutchesMax = 16;

// Where remainders carry over, the sum of the weights is at most so many times the smallest: what
// carries over is counted sling by sling over as many slings (shares/running.h).
inline constexpr std::uint32_t kCarryRatioMax = 100'000;

enum class PartyRole : std::uint8_t {
  kUnspecified,
  kMaleOwner,
  kFemaleOwner,
  kRaiser,
  kCooperative,
  kEarlierLender
};

struct Party {
  KeeperId keeper{};  // empty in a form
  PartyRole role = PartyRole::kUnspecified;

  friend bool operator==(const Party&, const Party&) = default;
};

// Which sacs are covered: those of these females, or of any; the first so many of each, or all
// until she moults; those laid until a day, or whenever.
struct Coverage {
  std::vector<AnimalId> females{};
  std::uint32_t sacs = 0;
  std::optional<Day> until_day{};

  friend bool operator==(const Coverage&, const Coverage&) = default;
};

// When and by whom slings are counted. Empty: not said.
struct Counting {
  std::uint32_t stage = 0;  // moults since the egg
  KeeperId counter{};
  KeeperId witness{};

  friend bool operator==(const Counting&, const Counting&) = default;
};

enum class ClaimKind : std::uint8_t { kSlings, kBasisPoints };

// Slings that go to one party before the rest is shared.
struct PriorClaim {
  std::uint32_t party = 0;  // index into Terms::parties
  ClaimKind kind = ClaimKind::kSlings;
  std::uint32_t amount = 0;              // slings, or hundredths of a per cent of what is left
  std::uint32_t slings_counted_min = 0;  // only if so many were counted
  std::uint32_t slings_max = 0;          // at most so many; 0: no cap
  std::uint32_t slings_min = 0;          // at least so many, before the cap; 0: no floor
  std::uint32_t sacs_max = 0;            // only of the first so many sacs; 0: of all

  friend bool operator==(const PriorClaim&, const PriorClaim&) = default;
};

// Whether a claim takes all that is left, whatever the count.
bool TakesAll(const PriorClaim& claim);

struct RatioShare {
  std::uint32_t party = 0;  // index into Terms::parties
  std::uint32_t weight = 0;

  friend bool operator==(const RatioShare&, const RatioShare&) = default;
};

// Shares of the rest from one sac of a female on.
struct LaterShares {
  std::uint32_t first_sac = 0;
  std::vector<RatioShare> shares{};

  friend bool operator==(const LaterShares&, const LaterShares&) = default;
};

// A clutch with fewer living slings than `below` goes whole to one party.
struct SmallClutchRule {
  std::uint32_t below = 0;
  std::uint32_t party = 0;  // index into Terms::parties

  friend bool operator==(const SmallClutchRule&, const SmallClutchRule&) = default;
};

// How shares become whole slings, within one clutch and from one to the next.
enum class Method : std::uint8_t {
  kLargestRemainder,
  kSainteLague,
  kDHondt,
  kAdams,
  kHuntingtonHill
};
enum class Carry : std::uint8_t { kUnspecified, kOff, kQuota, kChairman };
enum class SireRule : std::uint8_t { kUnspecified, kAsWritten, kEqual, kLastPaired, kPairings };

struct Apportioning {
  Method method = Method::kLargestRemainder;
  Carry carry = Carry::kUnspecified;
  SireRule sires = SireRule::kUnspecified;

  friend bool operator==(const Apportioning&, const Apportioning&) = default;
};

enum class LossBearer : std::uint8_t { kUnspecified, kEachOwn, kHolder, kShared };

// The death of the animal on loan: who bears it, and what the borrower owes if he does.
enum class MaleRisk : std::uint8_t { kUnspecified, kLender, kBorrower };
enum class RiskYield : std::uint8_t { kUnspecified, kAnimal, kSlings, kRemarks };

struct RiskClause {
  MaleRisk bearer = MaleRisk::kUnspecified;  // where nothing else is said
  MaleRisk in_transit = MaleRisk::kUnspecified;
  MaleRisk eaten = MaleRisk::kUnspecified;
  MaleRisk natural = MaleRisk::kUnspecified;
  RiskYield yield = RiskYield::kUnspecified;
  std::uint32_t yield_slings = 0;

  friend bool operator==(const RiskClause&, const RiskClause&) = default;
};

enum class LendingOn : std::uint8_t { kUnspecified, kForbidden, kConsent, kAllowed };

struct ReturnClause {
  std::uint32_t pairings_max = 0;
  LendingOn lending_on = LendingOn::kUnspecified;

  friend bool operator==(const ReturnClause&, const ReturnClause&) = default;
};

enum class CarriagePayer : std::uint8_t { kUnspecified, kSender, kLender, kBorrower, kReceiver };

struct CarriageClause {
  CarriagePayer payer = CarriagePayer::kUnspecified;  // where nothing else is said
  CarriagePayer out = CarriagePayer::kUnspecified;
  CarriagePayer back = CarriagePayer::kUnspecified;
  CarriagePayer slings = CarriagePayer::kUnspecified;

  friend bool operator==(const CarriageClause&, const CarriageClause&) = default;
};

// Slings that arrive dead. 0: not said; not replaced.
struct DeadArrivals {
  std::uint32_t report_hours = 0;
  std::uint32_t replace_days = 0;

  friend bool operator==(const DeadArrivals&, const DeadArrivals&) = default;
};

enum class FailureRule : std::uint8_t { kUnspecified, kNothing, kRepeat, kNextSac };

struct FailureClause {
  FailureRule no_sac = FailureRule::kUnspecified;
  FailureRule infertile_sac = FailureRule::kUnspecified;
  std::uint32_t no_sac_days = 0;  // 0: when the female moults

  friend bool operator==(const FailureClause&, const FailureClause&) = default;
};

struct Terms {
  std::vector<Party> parties{};
  Coverage coverage{};
  Counting counting{};
  std::optional<SmallClutchRule> small_clutch{};
  std::vector<PriorClaim> prior_claims{};
  std::vector<RatioShare> shares{};
  std::vector<LaterShares> later_shares{};  // by rising first sac
  Apportioning apportioning{};
  LossBearer loss_bearer = LossBearer::kUnspecified;
  RiskClause risk{};
  ReturnClause giving_back{};
  CarriageClause carriage{};
  DeadArrivals dead_arrivals{};
  FailureClause failure{};
  KeeperId arbiter{};  // empty: the registrars
  std::string remarks{};

  friend bool operator==(const Terms&, const Terms&) = default;
};

struct Agreement {
  LoanId loan{};
  Hash cooperative{};
  AnimalId animal{};
  KeeperId lender{};
  KeeperId borrower{};
  std::optional<Day> return_day{};
  Terms terms{};
  Hash replaces{};                   // of an amendment: the version that it takes the place of
  std::vector<ClutchId> clutches{};  // of an amendment: laid before, and covered too

  friend bool operator==(const Agreement&, const Agreement&) = default;
};

// Reads the bytes that parties sign (a serialized broodpact.v1.Agreement).
//
// Errors, in this order: INVALID_ARGUMENT with reason AGREEMENT_FORM (too long, not a message, an
// id of wrong length, an unknown field or enum value: parties do not sign what this program cannot
// read), NO_PARTIES, TOO_MANY_PARTIES, PARTY_TWICE, PARTY_MISSING (lender or borrower is no party),
// LENDER_IS_BORROWER, UNKNOWN_PARTY (an index past the end), CLAIM_OUT_OF_RANGE,
// NO_SHARES (unless a prior claim to 100 per cent, without conditions, covers all), SHARE_TWICE,
// WEIGHT_OUT_OF_RANGE, CARRY_TOO_FINE (kCarryRatioMax), CLAUSE_OUT_OF_RANGE (a number or a list of
// another clause), DATE_OUT_OF_RANGE (of a day), and those of CheckText for remarks.
// TOO_MANY_CLUTCHES and CLUTCH_TWICE are of the clutches of an amendment.
absl::StatusOr<Agreement> ParseAgreement(std::string_view bytes);

// The bytes to sign. ParseAgreement reads them back as an equal value.
std::string BuildAgreement(const Agreement& agreement);

// Reads the terms of a form (a serialized broodpact.v1.Terms): its parties have a role each and no
// keeper.
//
// Errors, in this order: INVALID_ARGUMENT with reason AGREEMENT_FORM, as above; NO_PARTIES,
// TOO_MANY_PARTIES, ROLE_MISSING, ROLE_TWICE; then as above from UNKNOWN_PARTY on.
absl::StatusOr<Terms> ParseFormTerms(std::string_view bytes);

// Checks terms that were put together and not read: whatever computes with them relies on it.
//
// Errors: as ParseAgreement has them, NO_PARTIES, TOO_MANY_PARTIES, and all from UNKNOWN_PARTY on.
absl::Status CheckTerms(const Terms& terms);

// The bytes of a form's terms. ParseFormTerms reads them back as an equal value.
std::string BuildFormTerms(const Terms& terms);

}  // namespace broodpact::facts
