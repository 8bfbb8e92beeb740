#pragma once

// What the fold knows: one struct a kind of subject. All of it follows from the commits.
//
// `born` and times are places in the log. An empty id or absent value is not known, or does not
// apply. Order of members is the order of the encoding (encode.h).

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "client/base/day.h"
#include "client/base/hash.h"
#include "client/base/id.h"
#include "client/base/signature.h"
#include "client/facts/statement.h"
#include "client/facts/terms.h"

namespace broodpact::registry {

// The kinds of subject, as the first byte of their key. Never reused.
enum class Kind : std::uint8_t {
  kCooperative = 1,
  kKeeper = 2,
  kDevice = 3,
  kInvite = 4,
  kGroup = 5,
  kAnimal = 6,
  kLoan = 7,
  kPairing = 8,
  kClutch = 9,
  kLot = 10,
  kClash = 11,
  kFrozen = 12,  // named by a statement of a newer kind; read-only
  kVeto = 24,
  kWant = 25,
};

// Spent ownerships, and spent holdings, that an animal keeps. A token older than these is answered
// as one that never was: superseded, without naming what beat it.
inline constexpr std::size_t kCustodiesKept = 64;

// Records in any one list of a subject. Beyond it a statement is refused: no animal moults so
// often, and every change of a subject costs what the subject is long.
inline constexpr std::size_t kRecordsMax = 4'096;

// Where in the log something came in. Arrival 0 and the author's clock while provisional.
struct Entry {
  std::uint64_t arrival = 0;
  std::int64_t time_ms = 0;
  KeeperId keeper{};  // who stated it

  friend bool operator==(const Entry&, const Entry&) = default;
};

struct Cooperative {
  static constexpr Kind kKind = Kind::kCooperative;
  Hash id{};
  std::string name{};
  Entry entry{};
  // How many there are of each.
  std::uint64_t keepers = 0, groups = 0, animals = 0, loans = 0, clutches = 0;
  std::uint64_t frozen = 0;  // subjects held still; while 0, nobody has to look for them

  friend bool operator==(const Cooperative&, const Cooperative&) = default;
};

struct Keeper {
  static constexpr Kind kKind = Kind::kKeeper;
  KeeperId id{};
  std::string name{};
  facts::Role role = facts::Role::kKeeper;
  std::string region{};
  std::vector<DeviceId> devices{};
  Entry entry{};

  friend bool operator==(const Keeper&, const Keeper&) = default;
};

struct Device {
  static constexpr Kind kKind = Kind::kDevice;
  DeviceId id{};
  PublicKey key{};
  KeeperId keeper{};
  Entry entry{};

  friend bool operator==(const Device&, const Device&) = default;
};

struct Invite {
  static constexpr Kind kKind = Kind::kInvite;
  InviteId id{};
  PublicKey key{};
  facts::Role role = facts::Role::kKeeper;
  DeviceId spent_by{};  // empty: open
  std::uint64_t spent_arrival = 0;
  Entry entry{};

  friend bool operator==(const Invite&, const Invite&) = default;
};

struct Group {
  static constexpr Kind kKind = Kind::kGroup;
  GroupId id{};
  std::string name{};
  std::string taxon{};
  std::string locality{};
  std::string line{};
  Entry entry{};

  friend bool operator==(const Group&, const Group&) = default;
};

// One moult of an animal.
struct MoultRecord {
  DaySpan day{};
  std::uint32_t moult_count = 0;
  Entry entry{};

  friend bool operator==(const MoultRecord&, const MoultRecord&) = default;
};

// One claim about an animal's sex.
struct SexRecord {
  facts::Sex sex = facts::Sex::kUnknown;
  facts::SexMethod method = facts::SexMethod::kUnspecified;
  DaySpan day{};
  Entry entry{};

  friend bool operator==(const SexRecord&, const SexRecord&) = default;
};

// An ownership or a holding that has been spent.
struct CustodyRecord {
  KeeperId keeper{};
  Token token{};
  std::uint64_t arrival = 0;  // when the token was made

  friend bool operator==(const CustodyRecord&, const CustodyRecord&) = default;
};

struct Animal {
  static constexpr Kind kKind = Kind::kAnimal;
  AnimalId id{};
  GroupId group{};
  std::string name{};
  KeeperId owner{};
  KeeperId holder{};
  Token owner_token{};              // spent by the next change of owner
  Token holder_token{};             // spent by the next change of holder
  std::uint64_t owner_arrival = 0;  // when each token was made
  std::uint64_t holder_arrival = 0;
  KeeperId receiver{};                    // who is to get it, while it is on its way
  LoanId loan{};                          // the loan in force that has it or is promised it
  facts::Sex sex = facts::Sex::kUnknown;  // by the latest claim
  std::optional<DaySpan> hatching{};
  std::optional<DaySpan> maturity{};
  std::optional<DaySpan> death{};
  std::string death_cause{};
  AnimalId sire{};
  AnimalId dam{};
  ClutchId clutch{};                    // that it was raised from
  std::vector<MoultRecord> moults{};    // in order of arrival
  std::vector<SexRecord> sex_claims{};  // in order of arrival
  std::vector<PairingId> pairings{};    // in order of arrival
  std::vector<ClutchId> clutches{};     // of a female, in order of arrival
  // The last kCustodiesKept, in order: each was spent by the next, the last by the present one.
  std::vector<CustodyRecord> past_owners{};
  std::vector<CustodyRecord> past_holders{};
  Entry entry{};

  friend bool operator==(const Animal&, const Animal&) = default;
};

// A signature under an agreement.
struct SignatureRecord {
  KeeperId keeper{};
  Entry entry{};

  friend bool operator==(const SignatureRecord&, const SignatureRecord&) = default;
};

enum class LoanState : std::uint8_t {
  kOffered = 1,   // by the owner, not signed by all
  kAskedFor = 2,  // by the borrower, not signed by all
  kInForce = 3,
  kDeclined = 4,
  kSuperseded = 5,  // all signed, but the animal was promised to another loan before
  kClosed = 6,
};

struct Loan {
  static constexpr Kind kKind = Kind::kLoan;
  LoanId id{};
  std::string name{};
  std::string agreement{};  // the bytes that are signed; facts::ParseAgreement reads them
  Hash agreement_digest{};
  AnimalId animal{};
  KeeperId lender{};
  KeeperId borrower{};
  std::optional<Day> return_day{};
  LoanState state = LoanState::kOffered;
  std::vector<KeeperId> parties{};  // in the order of the terms
  std::vector<SignatureRecord> signatures{};
  std::uint64_t in_force_arrival = 0;
  std::int64_t in_force_time_ms = 0;
  std::optional<DaySpan> dispatch{};  // the last one
  std::optional<DaySpan> receipt{};   // the last one
  std::optional<DaySpan> closure{};
  std::string reason{};  // of declining or closing
  Entry ended{};         // by whom it was declined, superseded or closed
  Entry entry{};

  friend bool operator==(const Loan&, const Loan&) = default;
};

struct Pairing {
  static constexpr Kind kKind = Kind::kPairing;
  PairingId id{};
  AnimalId male{};
  AnimalId female{};
  DaySpan day{};
  facts::PairingOutcome outcome = facts::PairingOutcome::kUnspecified;
  LoanId loan{};
  Entry entry{};

  friend bool operator==(const Pairing&, const Pairing&) = default;
};

enum class CountState : std::uint8_t { kStanding = 1, kReplaced = 2, kRival = 3 };

struct CountRecord {
  Token token{};  // what a replacement or a split names
  DaySpan day{};
  std::uint32_t slings_living = 0;
  std::uint32_t slings_dead = 0;
  std::uint32_t moult_count = 0;
  CountState state = CountState::kStanding;
  Entry entry{};

  friend bool operator==(const CountRecord&, const CountRecord&) = default;
};

// Double entry for the slings of one clutch. Invariant, at every place in the log:
//   hatched = living + dead + raised + unaccounted
// where living = undivided + the slings of all its lots. Only `unaccounted` may be negative.
struct Accounts {
  std::uint32_t hatched = 0;    // of the first count; alive and dead together
  std::uint32_t undivided = 0;  // counted, not yet shared out
  std::uint32_t in_lots = 0;    // sum of its lots
  std::uint32_t dead = 0;
  std::uint32_t raised = 0;
  std::int32_t unaccounted = 0;

  friend bool operator==(const Accounts&, const Accounts&) = default;
};

struct Clutch {
  static constexpr Kind kKind = Kind::kClutch;
  ClutchId id{};
  std::string name{};
  AnimalId female{};
  KeeperId owner{};   // the mother's owner when it was laid
  KeeperId holder{};  // who has the sac, or the undivided slings
  DaySpan laying{};
  std::optional<DaySpan> pulling{};
  std::optional<DaySpan> loss{};
  std::string loss_cause{};
  LoanId loan{};
  std::vector<CountRecord> counts{};  // in order of arrival
  Accounts accounts{};
  bool shared_out = false;
  Token split_count{};                      // the count that was shared out
  std::vector<facts::SplitShare> shares{};  // as recorded
  std::vector<LotId> lots{};                // in order of arrival
  Entry split{};                            // by whom it was shared out
  Entry entry{};

  friend bool operator==(const Clutch&, const Clutch&) = default;
};

struct Lot {
  static constexpr Kind kKind = Kind::kLot;
  LotId id{};
  ClutchId clutch{};
  KeeperId owner{};
  KeeperId holder{};
  KeeperId receiver{};  // while it is on its way
  std::uint32_t slings = 0;
  std::uint32_t slings_dispatched = 0;  // of a parcel: as it was sent
  std::optional<DaySpan> dispatch{};
  std::optional<DaySpan> receipt{};
  LotId source{};  // the lot that it was taken from
  std::uint32_t raised = 0;
  std::uint32_t dead = 0;
  std::uint64_t receipt_arrival = 0;  // when the receipt came in
  Entry entry{};

  friend bool operator==(const Lot&, const Lot&) = default;
};

enum class ClashState : std::uint8_t { kOpen = 1, kSettled = 2 };

// Two statements that cannot both stand, or a promise that a fact broke.
struct Clash {
  static constexpr Kind kKind = Kind::kClash;
  ClashId id{};  // first half of SHA-256(hash of the commit that brought it, "clash", subject)
  Kind subject_kind = Kind::kAnimal;
  IdBytes subject{};
  std::string reason{};   // as in the verdict
  std::string message{};  // one sentence
  std::vector<KeeperId> parties{};
  Hash loser_commit{};               // zeros for a broken promise: only its arrival is known
  std::uint64_t loser_arrival = 0;   // 0: provisional
  std::uint64_t winner_arrival = 0;  // 0: provisional
  ClashState state = ClashState::kOpen;
  Entry entry{};

  friend bool operator==(const Clash&, const Clash&) = default;
};

// A subject that a statement of a newer kind named.
struct Frozen {
  static constexpr Kind kKind = Kind::kFrozen;
  IdBytes id{};
  Entry entry{};

  friend bool operator==(const Frozen&, const Frozen&) = default;
};

// What a keeper keeps out of plans. It is read in a plan as long as the keeper owns or holds the
// animal; without an animal, for all that the keeper owns or holds.
struct Veto {
  static constexpr Kind kKind = Kind::kVeto;
  VetoId id{};  // first half of SHA-256(keeper, animal, other animal, other keeper)
  KeeperId keeper{};
  AnimalId animal{};
  AnimalId other_animal{};
  KeeperId other_keeper{};
  facts::VetoStance stance = facts::VetoStance::kStands;
  Entry entry{};

  friend bool operator==(const Veto&, const Veto&) = default;
};

enum class WantState : std::uint8_t { kOpen = 1, kEnded = 2 };

// What a keeper is looking for.
struct Want {
  static constexpr Kind kKind = Kind::kWant;
  WantId id{};
  KeeperId keeper{};
  GroupId group{};
  facts::WantKind what = facts::WantKind::kSlings;
  std::uint32_t count = 0;  // 0: not said
  std::optional<Day> until{};
  std::string note{};
  WantState state = WantState::kOpen;
  Entry entry{};

  friend bool operator==(const Want&, const Want&) = default;
};

}  // namespace broodpact::registry
