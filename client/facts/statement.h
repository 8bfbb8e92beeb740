#pragma once

// What can be stated, as values: one struct a kind, with the same names and meaning as in
// proto/broodpact/v1/*_statement.proto. Within bounds by construction of ParseCommit: ids are
// present where required, names are well-formed, days are valid.
//
// An absent optional id is an empty Id.

#include <cstdint>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "client/base/day.h"
#include "client/base/hash.h"
#include "client/base/id.h"
#include "client/base/signature.h"
#include "client/facts/terms.h"

namespace broodpact::facts {

enum class Role : std::uint8_t { kUnspecified = 0, kKeeper = 1, kRegistrar = 2, kObserver = 3 };
enum class Sex : std::uint8_t { kUnknown = 0, kFemale = 1, kMale = 2 };
enum class SexMethod : std::uint8_t {
  kUnspecified = 0,
  kShedSkin = 1,
  kVentral = 2,
  kAdultForm = 3
};
enum class ArrivalCondition : std::uint8_t { kUnspecified = 0, kWell = 1, kHurt = 2, kDead = 3 };
enum class PairingOutcome : std::uint8_t {
  kUnspecified = 0,
  kInsertionSeen = 1,
  kRefused = 2,
  kMaleEaten = 3
};

struct Founding {
  std::string name{};
  KeeperId keeper{};
  std::string keeper_name{};
  PublicKey device_key{};
  std::string region{};
};
struct Invitation {
  PublicKey invite_key{};
  Role role = Role::kKeeper;
  std::string keeper_name{};
};
struct Joining {
  PublicKey invite_key{};
  KeeperId keeper{};
  std::string keeper_name{};
  PublicKey device_key{};
  Signature invite_signature{};
  std::string region{};
};
struct GroupEntry {
  GroupId group{};
  std::string name{};
  std::string taxon{};
  std::string locality{};
  std::string line{};
};
struct AnimalEntry {
  AnimalId animal{};
  GroupId group{};
  std::string name{};
  Sex sex = Sex::kUnknown;
  SexMethod sex_method = SexMethod::kUnspecified;
  std::optional<DaySpan> hatching{};
  AnimalId sire{};
  AnimalId dam{};
  std::optional<DaySpan> maturity{};
};
struct Moult {
  AnimalId animal{};
  DaySpan day{};
  std::uint32_t moult_count = 0;
};
struct Maturity {
  AnimalId animal{};
  DaySpan day{};
};
struct SexClaim {
  AnimalId animal{};
  Sex sex = Sex::kUnknown;
  SexMethod method = SexMethod::kUnspecified;
  DaySpan day{};
};
struct Death {
  AnimalId animal{};
  DaySpan day{};
  std::string cause{};
};
struct Gift {
  AnimalId animal{};
  KeeperId receiver{};
  Token owner_token{};
  Token holder_token{};
};
struct LoanProposal {
  std::string agreement{};  // the bytes that are signed
  Hash agreement_digest{};
  Agreement parsed{};
  std::string name{};
};
struct LoanSignature {
  LoanId loan{};
  Hash agreement_digest{};
};
struct LoanRefusal {
  LoanId loan{};
  std::string reason{};
};
struct Dispatch {
  LoanId loan{};
  KeeperId receiver{};
  Token holder_token{};
  DaySpan day{};
};
struct Receipt {
  LoanId loan{};
  DaySpan day{};
  ArrivalCondition condition = ArrivalCondition::kUnspecified;
};
struct LoanClosure {
  LoanId loan{};
  DaySpan day{};
  std::string reason{};
};
struct Pairing {
  PairingId pairing{};
  AnimalId male{};
  AnimalId female{};
  DaySpan day{};
  PairingOutcome outcome = PairingOutcome::kUnspecified;
  LoanId loan{};
};
struct SacLaying {
  ClutchId clutch{};
  AnimalId female{};
  DaySpan day{};
  std::string name{};
  LoanId loan{};
};
struct SacPulling {
  ClutchId clutch{};
  DaySpan day{};
};
struct SacLoss {
  ClutchId clutch{};
  DaySpan day{};
  std::string cause{};
};
struct Count {
  ClutchId clutch{};
  DaySpan day{};
  std::uint32_t slings_living = 0;
  std::uint32_t slings_dead = 0;
  std::uint32_t moult_count = 0;
  Token count_token{};  // the count that it replaces
};
struct SplitShare {
  KeeperId keeper{};
  std::uint32_t slings = 0;
  LotId lot{};

  friend bool operator==(const SplitShare&, const SplitShare&) = default;
};
struct SplitRecord {
  ClutchId clutch{};
  Token count_token{};
  std::vector<SplitShare> shares{};
};
struct LotDispatch {
  LotId lot{};
  LotId parcel{};
  KeeperId receiver{};
  std::uint32_t slings = 0;
  DaySpan day{};
};
struct LotReceipt {
  LotId parcel{};
  std::uint32_t slings_living = 0;
  std::uint32_t slings_dead = 0;
  DaySpan day{};
};
struct LotLoss {
  LotId lot{};
  std::uint32_t slings = 0;
  DaySpan day{};
  std::string cause{};
};
struct LotRaising {
  LotId lot{};
  AnimalId animal{};
  std::string name{};
  Sex sex = Sex::kUnknown;
  DaySpan day{};
};

// A kind that this replica does not know: kept and relayed with its commit, not understood.
struct Unknown {
  std::vector<IdBytes> subjects{};
};

using Statement =
    std::variant<Unknown, Founding, Invitation, Joining, GroupEntry, AnimalEntry, Moult, Maturity,
                 SexClaim, Death, Gift, LoanProposal, LoanSignature, LoanRefusal, Dispatch, Receipt,
                 LoanClosure, Pairing, SacLaying, SacPulling, SacLoss, Count, SplitRecord,
                 LotDispatch, LotReceipt, LotLoss, LotRaising>;

// The bytes that an invitation's key signs to let a newcomer in.
std::string JoiningMessage(const Hash& cooperative, const KeeperId& keeper,
                           const PublicKey& device_key);

}  // namespace broodpact::facts
