#pragma once

// What the parties of a loan agree on, as values. proto/broodpact/v1/terms.proto says what each
// field means; here every value is already within its bounds.

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/statusor.h"

#include "client/base/day.h"
#include "client/base/hash.h"
#include "client/base/id.h"

namespace broodpact::facts {

inline constexpr std::size_t kPartiesMax = 16;
inline constexpr std::size_t kClaimsMax = 16;
inline constexpr std::uint32_t kSlingsMax = 1'000'000;
inline constexpr std::uint32_t kWeightMax = 1'000'000;
inline constexpr std::uint32_t kBasisPointsMax = 10'000;
inline constexpr std::size_t kAgreementBytesMax = 8'192;
inline constexpr std::size_t kAmendedClutchesMax = 16;

enum class PartyRole : std::uint8_t {
  kUnspecified,
  kMaleOwner,
  kFemaleOwner,
  kRaiser,
  kCooperative,
  kEarlierLender
};

struct Party {
  KeeperId keeper{};
  PartyRole role = PartyRole::kUnspecified;

  friend bool operator==(const Party&, const Party&) = default;
};

enum class ClaimKind : std::uint8_t { kSlings, kBasisPoints };

// Slings that go to one party before the rest is shared.
struct PriorClaim {
  std::uint32_t party = 0;  // index into Terms::parties
  ClaimKind kind = ClaimKind::kSlings;
  std::uint32_t amount = 0;              // slings, or hundredths of a per cent of what is left
  std::uint32_t slings_counted_min = 0;  // only if so many were counted
  std::uint32_t slings_max = 0;          // at most so many; 0: no cap

  friend bool operator==(const PriorClaim&, const PriorClaim&) = default;
};

struct RatioShare {
  std::uint32_t party = 0;  // index into Terms::parties
  std::uint32_t weight = 0;

  friend bool operator==(const RatioShare&, const RatioShare&) = default;
};

// A clutch with fewer living slings than `below` goes whole to one party.
struct SmallClutchRule {
  std::uint32_t below = 0;
  std::uint32_t party = 0;  // index into Terms::parties

  friend bool operator==(const SmallClutchRule&, const SmallClutchRule&) = default;
};

enum class LossBearer : std::uint8_t { kUnspecified, kEachOwn, kHolder, kShared };
enum class MaleRisk : std::uint8_t { kUnspecified, kLender, kBorrower };
enum class CarriagePayer : std::uint8_t { kUnspecified, kSender, kLender, kBorrower };

struct Terms {
  std::vector<Party> parties{};
  std::optional<SmallClutchRule> small_clutch{};
  std::vector<PriorClaim> prior_claims{};
  std::vector<RatioShare> shares{};
  std::uint32_t counting_stage = 0;
  LossBearer loss_bearer = LossBearer::kUnspecified;
  std::uint32_t sacs_covered = 0;
  MaleRisk male_risk = MaleRisk::kUnspecified;
  CarriagePayer carriage_payer = CarriagePayer::kUnspecified;
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
// WEIGHT_OUT_OF_RANGE, DATE_OUT_OF_RANGE (of the return day), and those of CheckText for remarks.
// TOO_MANY_CLUTCHES and CLUTCH_TWICE are of the clutches of an amendment.
absl::StatusOr<Agreement> ParseAgreement(std::string_view bytes);

// The bytes to sign. ParseAgreement reads them back as an equal value.
std::string BuildAgreement(const Agreement& agreement);

}  // namespace broodpact::facts
