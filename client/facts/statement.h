#pragma once

// What can be stated, as values: one struct a kind, with the same names and meaning as in
// proto/broodpact/v1/*_statement.proto. Within bounds by construction of ParseCommit: ids are
// present where required, names are well-formed, days are valid.
//
// An absent optional id is an empty Id.

#include <concepts>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "client/base/day.h"
#include "client/base/hash.h"
#include "client/base/id.h"
#include "client/base/signature.h"
#include "client/facts/group.h"
#include "client/facts/membership.h"
#include "client/facts/sealed.h"
#include "client/facts/terms.h"

namespace broodpact::facts {

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

// Loans whose dues run with one female, in one gift.
inline constexpr int kDueLoansMax = 16;
enum class VetoStance : std::uint8_t { kUnspecified = 0, kStands = 1, kLifted = 2 };
enum class WantKind : std::uint8_t { kUnspecified = 0, kSlings = 1, kMale = 2, kFemale = 3 };

struct Restatement {
  std::string commit{};  // the bytes that were signed
  Signature signature{};
  std::shared_ptr<const Commit> told{};  // the commit, read; never absent after parsing

  // `told` follows from the bytes.
  friend bool operator==(const Restatement& a, const Restatement& b) {
    return a.commit == b.commit && a.signature == b.signature;
  }
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

  friend bool operator==(const AnimalEntry&, const AnimalEntry&) = default;
};
struct Moult {
  AnimalId animal{};
  DaySpan day{};
  std::uint32_t moult_count = 0;

  friend bool operator==(const Moult&, const Moult&) = default;
};
struct Maturity {
  AnimalId animal{};
  DaySpan day{};

  friend bool operator==(const Maturity&, const Maturity&) = default;
};
struct SexClaim {
  AnimalId animal{};
  Sex sex = Sex::kUnknown;
  SexMethod method = SexMethod::kUnspecified;
  DaySpan day{};

  friend bool operator==(const SexClaim&, const SexClaim&) = default;
};
struct Death {
  AnimalId animal{};
  DaySpan day{};
  std::string cause{};

  friend bool operator==(const Death&, const Death&) = default;
};
struct Gift {
  AnimalId animal{};
  KeeperId receiver{};
  Token owner_token{};
  Token holder_token{};
  std::vector<LoanId> due_loans{};  // whose dues run with her

  friend bool operator==(const Gift&, const Gift&) = default;
};
struct LoanProposal {
  std::string agreement{};  // the bytes that are signed
  Hash agreement_digest{};
  Agreement parsed{};
  std::string name{};
  std::optional<Day> open_until{};

  friend bool operator==(const LoanProposal&, const LoanProposal&) = default;
};
struct LoanAmendment {
  std::string agreement{};  // the bytes that are signed
  Hash agreement_digest{};
  Agreement parsed{};
  std::optional<Day> open_until{};

  friend bool operator==(const LoanAmendment&, const LoanAmendment&) = default;
};
struct LoanSignature {
  LoanId loan{};
  Hash agreement_digest{};

  friend bool operator==(const LoanSignature&, const LoanSignature&) = default;
};
struct LoanRefusal {
  LoanId loan{};
  std::string reason{};
  Hash agreement_digest{};  // of the amendment; zeros: the loan as it was proposed

  friend bool operator==(const LoanRefusal&, const LoanRefusal&) = default;
};
struct TermsForm {
  FormId form{};
  std::string name{};
  std::string terms{};  // as its author wrote them
  Terms parsed{};
  Token form_token{};  // the version that it replaces

  friend bool operator==(const TermsForm&, const TermsForm&) = default;
};
struct Dispatch {
  LoanId loan{};
  KeeperId receiver{};
  Token holder_token{};
  DaySpan day{};

  friend bool operator==(const Dispatch&, const Dispatch&) = default;
};
struct Receipt {
  LoanId loan{};
  DaySpan day{};
  ArrivalCondition condition = ArrivalCondition::kUnspecified;

  friend bool operator==(const Receipt&, const Receipt&) = default;
};
struct LoanClosure {
  LoanId loan{};
  DaySpan day{};
  std::string reason{};

  friend bool operator==(const LoanClosure&, const LoanClosure&) = default;
};
struct Pairing {
  PairingId pairing{};
  AnimalId male{};
  AnimalId female{};
  DaySpan day{};
  PairingOutcome outcome = PairingOutcome::kUnspecified;
  LoanId loan{};
  bool hybrid_intended = false;  // across groups, and meant to be

  friend bool operator==(const Pairing&, const Pairing&) = default;
};
struct SacLaying {
  ClutchId clutch{};
  AnimalId female{};
  DaySpan day{};
  std::string name{};
  LoanId loan{};

  friend bool operator==(const SacLaying&, const SacLaying&) = default;
};
struct SacPulling {
  ClutchId clutch{};
  DaySpan day{};

  friend bool operator==(const SacPulling&, const SacPulling&) = default;
};
struct SacLoss {
  ClutchId clutch{};
  DaySpan day{};
  std::string cause{};

  friend bool operator==(const SacLoss&, const SacLoss&) = default;
};
struct Count {
  ClutchId clutch{};
  DaySpan day{};
  std::uint32_t slings_living = 0;
  std::uint32_t slings_dead = 0;
  std::uint32_t moult_count = 0;
  Token count_token{};  // the count that it replaces

  friend bool operator==(const Count&, const Count&) = default;
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
  std::uint32_t carried_slings = 0;

  friend bool operator==(const SplitRecord&, const SplitRecord&) = default;
};
struct LotDispatch {
  LotId lot{};
  LotId parcel{};
  KeeperId receiver{};
  std::uint32_t slings = 0;
  DaySpan day{};
  LotId replaced{};  // the parcel whose dead arrivals it makes good

  friend bool operator==(const LotDispatch&, const LotDispatch&) = default;
};
struct LotReceipt {
  LotId parcel{};
  std::uint32_t slings_living = 0;
  std::uint32_t slings_dead = 0;
  DaySpan day{};

  friend bool operator==(const LotReceipt&, const LotReceipt&) = default;
};
struct LotLoss {
  LotId lot{};
  std::uint32_t slings = 0;
  DaySpan day{};
  std::string cause{};

  friend bool operator==(const LotLoss&, const LotLoss&) = default;
};
struct LotRaising {
  LotId lot{};
  AnimalId animal{};
  std::string name{};
  Sex sex = Sex::kUnknown;
  DaySpan day{};

  friend bool operator==(const LotRaising&, const LotRaising&) = default;
};

struct Objection {
  ClutchId clutch{};
  Token count_token{};  // the count objected to; empty: the split
  std::string reason{};
  DaySpan day{};

  friend bool operator==(const Objection&, const Objection&) = default;
};
struct ClashWithdrawal {
  ClashId clash{};
  std::string reason{};

  friend bool operator==(const ClashWithdrawal&, const ClashWithdrawal&) = default;
};
struct LotMove {
  LotId lot{};
  KeeperId keeper{};
  std::uint32_t slings = 0;
  LotId new_lot{};

  friend bool operator==(const LotMove&, const LotMove&) = default;
};
struct ClashSettlement {
  ClashId clash{};
  std::string words{};
  Token count_token{};  // the count that is to stand; empty: as it is
  std::vector<SplitShare> shares{};
  std::vector<LotMove> moves{};

  friend bool operator==(const ClashSettlement&, const ClashSettlement&) = default;
};
struct ClashSignature {
  ClashId clash{};
  Token settlement{};

  friend bool operator==(const ClashSignature&, const ClashSignature&) = default;
};
struct LateHatching {
  ClutchId clutch{};
  std::uint32_t slings = 0;
  DaySpan day{};

  friend bool operator==(const LateHatching&, const LateHatching&) = default;
};
struct ShareWaiver {
  ClutchId clutch{};
  KeeperId party{};
  KeeperId receiver{};  // empty: given up
  std::string reason{};

  friend bool operator==(const ShareWaiver&, const ShareWaiver&) = default;
};
struct LotReturn {
  LotId lot{};
  std::uint32_t slings = 0;
  DaySpan day{};
  std::string reason{};

  friend bool operator==(const LotReturn&, const LotReturn&) = default;
};
struct LotPassing {
  LotId lot{};
  LotId new_lot{};
  KeeperId receiver{};
  std::uint32_t slings = 0;
  DaySpan day{};

  friend bool operator==(const LotPassing&, const LotPassing&) = default;
};
struct LotDivision {
  LotId lot{};
  LotId new_lot{};
  std::uint32_t slings = 0;
  DaySpan day{};

  friend bool operator==(const LotDivision&, const LotDivision&) = default;
};
struct LotMerging {
  LotId lot{};
  std::vector<LotId> merged{};
  DaySpan day{};

  friend bool operator==(const LotMerging&, const LotMerging&) = default;
};
struct Succession {
  KeeperId keeper{};
  KeeperId successor{};  // empty: nobody any more
  std::string reason{};
  DaySpan day{};

  friend bool operator==(const Succession&, const Succession&) = default;
};
struct SacGift {
  ClutchId clutch{};
  KeeperId receiver{};
  LoanId due_loan{};
  DaySpan day{};

  friend bool operator==(const SacGift&, const SacGift&) = default;
};
struct DueAcceptance {
  AnimalId animal{};  // or
  ClutchId clutch{};
  Token offer{};
  std::vector<Hash> agreement_digests{};

  friend bool operator==(const DueAcceptance&, const DueAcceptance&) = default;
};
struct PlanVeto {
  AnimalId animal{};
  AnimalId other_animal{};
  KeeperId other_keeper{};
  VetoStance stance = VetoStance::kStands;

  friend bool operator==(const PlanVeto&, const PlanVeto&) = default;
};
struct WantEntry {
  WantId want{};
  GroupId group{};
  WantKind kind = WantKind::kSlings;
  std::uint32_t count = 0;
  std::optional<Day> until{};
  std::string note{};

  friend bool operator==(const WantEntry&, const WantEntry&) = default;
};
struct WantEnd {
  WantId want{};

  friend bool operator==(const WantEnd&, const WantEnd&) = default;
};
struct CountWitness {
  ClutchId clutch{};
  Token count_token{};
  DaySpan day{};

  friend bool operator==(const CountWitness&, const CountWitness&) = default;
};

// A kind that this replica does not know: kept and relayed with its commit, not understood.
struct Unknown {
  std::vector<IdBytes> subjects{};

  friend bool operator==(const Unknown&, const Unknown&) = default;
};

using StatementKinds =
    std::variant<Unknown, Founding, Invitation, Joining, GroupEntry, AnimalEntry, Moult, Maturity,
                 SexClaim, Death, Gift, LoanProposal, LoanSignature, LoanRefusal, Dispatch, Receipt,
                 LoanClosure, Pairing, SacLaying, SacPulling, SacLoss, Count, SplitRecord,
                 LotDispatch, LotReceipt, LotLoss, LotRaising, Objection, ClashWithdrawal,
                 ClashSettlement, ClashSignature, LateHatching, ShareWaiver, LotReturn, LotPassing,
                 LotDivision, LotMerging, Succession, SacGift, DueAcceptance, LoanAmendment,
                 PlanVeto, WantEntry, WantEnd, NameUse, GroupMove, GroupClosure, Restatement,
                 TermsForm, CountWitness, FounderKinship, DeviceInvitation, DeviceJoining,
                 Revocation, Adoption, KeyRotation, RoleChange, MotionSignature, Leaving,
                 LeaseTaking, LeaseRelease, SealingKeyEntry, SealedEntry, Resealing>;

template <typename T, typename Kinds>
inline constexpr bool kIsOneOf = false;
template <typename T, typename... Kinds>
inline constexpr bool kIsOneOf<T, std::variant<Kinds...>> = (std::same_as<T, Kinds> || ...);

template <typename T>
concept StatementKind = kIsOneOf<T, StatementKinds>;

// One of them; std::visit, std::get_if and std::holds_alternative take it as the variant it is. A
// class, because a variant of sixty kinds has to be compiled in every file that copies one, five
// seconds each time: here it is done once, in statement.cc.
class Statement : public StatementKinds {
 public:
  Statement();
  template <StatementKind Kind>
  Statement(Kind kind);  // NOLINT(google-explicit-constructor): a kind is a statement
  Statement(const Statement& other);
  Statement(Statement&& other) noexcept;
  Statement& operator=(const Statement& other);
  Statement& operator=(Statement&& other) noexcept;
  ~Statement();

  friend bool operator==(const Statement& a, const Statement& b);
};

// The bytes that an invitation's key signs to let a newcomer in.
std::string JoiningMessage(const Hash& cooperative, const KeeperId& keeper,
                           const PublicKey& device_key);

// The bytes that a new key signs to take the place of a device's.
std::string RotationMessage(const Hash& cooperative, const DeviceId& device);

}  // namespace broodpact::facts
