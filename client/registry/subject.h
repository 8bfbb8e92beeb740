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
#include "client/registry/branch.h"
#include "client/registry/clash.h"
#include "client/registry/group.h"
#include "client/registry/member.h"
#include "client/registry/sealed.h"
#include "client/shares/occasion.h"

namespace broodpact::registry {

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

// Who stands in the place of a party of an agreement: a female or a sac changed hands, and its due
// with it.
struct DueRecord {
  LoanId loan{};
  KeeperId party{};   // of the agreement
  KeeperId keeper{};  // in its place
  Entry entry{};

  friend bool operator==(const DueRecord&, const DueRecord&) = default;
};

// The version of an agreement under which a keeper took over a due: no other binds it, but later
// ones that it has signed too.
struct DueVersion {
  LoanId loan{};
  KeeperId keeper{};
  Hash agreement{};

  friend bool operator==(const DueVersion&, const DueVersion&) = default;
};

// A gift that waits for its receiver to accept what runs with it.
struct DueOffer {
  KeeperId receiver{};
  std::vector<LoanId> loans{};  // whose dues run with it
  Token token{};                // what the acceptance names
  bool moves = false;           // the holding changes too
  Entry entry{};

  friend bool operator==(const DueOffer&, const DueOffer&) = default;
};
// A group that an animal was moved out of.
struct GroupRecord {
  GroupId group{};
  std::string reason{};
  Entry entry{};  // of the move

  friend bool operator==(const GroupRecord&, const GroupRecord&) = default;
};

enum class LeaseKind : std::uint8_t { kOwnership = 1, kHolding = 2, kSlings = 3 };

// What one device alone may spend, for a while.
struct Lease {
  LeaseId id{};
  LeaseKind kind = LeaseKind::kOwnership;
  DeviceId device{};
  KeeperId keeper{};
  std::uint32_t slings = 0;  // of a lot: what is left of them
  Day until{};               // the last day, by the log's clock
  Entry entry{};

  friend bool operator==(const Lease&, const Lease&) = default;
};

// Leases on one thing that are kept, ended ones included.
inline constexpr std::size_t kLeasesMax = 16;
// How long a lease may stand, from its arrival.
inline constexpr std::int32_t kLeaseDaysMax = 92;

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
  std::vector<DueRecord> dues{};    // that were taken over with her
  std::optional<DueOffer> offer{};  // the last one, until it is accepted
  Entry entry{};
  bool hybrid = false;                     // a pairing across groups is among its ancestors
  std::vector<GroupRecord> past_groups{};  // in order
  std::vector<AnimalId> offspring{};       // whose entry names it as a parent, in order of arrival
  std::vector<Lease> leases{};             // in order of arrival
  std::vector<DueVersion> due_versions{};  // of her dues, the newest of each loan

  friend bool operator==(const Animal&, const Animal&) = default;
};

enum class LoanState : std::uint8_t {
  kOffered = 1,   // by the owner, not signed by all
  kAskedFor = 2,  // by the borrower, not signed by all
  kInForce = 3,
  kDeclined = 4,
  kSuperseded = 5,  // all signed, but the animal was promised to another loan before
  kClosed = 6,
};

enum class VersionState : std::uint8_t {
  kOpen = 1,        // not signed by all
  kDeclined = 2,    // by a party
  kSuperseded = 3,  // another amendment came in force first
  kReplaced = 4,    // was in force until an amendment was
};

// A version of a loan's agreement that is not the one in force: an amendment that waits for
// signatures or came to nothing, or what an amendment replaced.
struct LoanVersion {
  std::string agreement{};
  Hash digest{};
  VersionState state = VersionState::kOpen;
  std::vector<KeeperId> parties{};            // in the order of its terms
  std::vector<SignatureRecord> signatures{};  // that of who proposed it first
  std::optional<Day> open_until{};
  std::uint64_t in_force_arrival = 0;  // of one that was in force
  std::int64_t in_force_time_ms = 0;
  std::string reason{};  // of declining
  Entry ended{};         // by what it was declined, superseded or replaced

  friend bool operator==(const LoanVersion&, const LoanVersion&) = default;
};

// Versions of a loan that were in force before, and of each keeper's amendments those that are not.
// Beyond them an amendment is refused.
inline constexpr std::size_t kVersionsMax = 16;
inline constexpr std::size_t kAmendmentsOfOneMax = 8;

// Sacs of a female that were laid under a loan.
struct SacTally {
  AnimalId female{};
  std::uint32_t sacs = 0;

  friend bool operator==(const SacTally&, const SacTally&) = default;
};

struct Loan {
  static constexpr Kind kKind = Kind::kLoan;
  LoanId id{};
  std::string name{};
  // The version in force, or the first one while none is: the bytes that are signed
  // (facts::ParseAgreement reads them), its digest, parties and signatures.
  std::string agreement{};
  Hash agreement_digest{};
  AnimalId animal{};
  KeeperId lender{};
  KeeperId borrower{};
  std::optional<Day> return_day{};
  LoanState state = LoanState::kOffered;
  std::vector<KeeperId> parties{};  // in the order of the terms
  std::vector<SignatureRecord> signatures{};
  std::uint64_t in_force_arrival = 0;  // of that version
  std::int64_t in_force_time_ms = 0;
  std::optional<Day> open_until{};      // the last day to sign the first version
  std::vector<LoanVersion> versions{};  // replaced ones in the order in which they were in force
  std::optional<DaySpan> dispatch{};    // the last one
  std::optional<DaySpan> receipt{};     // the last one
  std::optional<DaySpan> closure{};
  std::string reason{};          // of declining or closing
  Entry ended{};                 // by whom it was declined, superseded or closed
  std::vector<SacTally> sacs{};  // in order of the first
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
  KeeperId male_owner{};  // when it was entered
  Entry entry{};
  bool hybrid = false;  // across groups, or with a hybrid
  // Stated by one who has no part in her: it gives no part in a clutch, and marks none.
  bool claimed = false;

  friend bool operator==(const Pairing&, const Pairing&) = default;
};

enum class CountState : std::uint8_t {
  kStanding = 1,
  kReplaced = 2,
  kRival = 3,
  kSetAside = 4,
  kSame = 5,  // found the same numbers as the standing one, and did not know of it
};

struct CountRecord {
  Token token{};  // what a replacement or a split names
  DaySpan day{};
  std::uint32_t slings_living = 0;
  std::uint32_t slings_dead = 0;
  std::uint32_t moult_count = 0;
  CountState state = CountState::kStanding;
  KeeperId witness{};  // who confirmed it; empty: nobody
  Entry entry{};

  friend bool operator==(const CountRecord&, const CountRecord&) = default;
};

// What happened to slings of a clutch or of a lot, in the order of the story that `lot show` tells.
enum class SlingEventKind : std::uint8_t {
  kShared = 1,    // became lots; of a lot: how it began
  kTaken = 2,     // of a lot: how it began, out of `lot`
  kSent = 3,      // left as parcel `lot`, to `keeper`
  kReceived = 4,  // arrived: `slings` alive, `dead` dead
  kLost = 5,
  kRaised = 6,    // became `animal`
  kReturned = 7,  // went back to the clutch; of a clutch: came back from `lot`
  kPassed = 8,    // became `keeper`'s, as `lot`
  kDivided = 9,   // became `lot`
  kMerged = 10,   // came in from `lot`
  kMergedInto = 11,
  kAwarded = 12,  // became `keeper`'s by a settlement, as `lot`
  kHatchedLate = 13,
  kWaived = 14,   // `keeper` gave up its share, or passed it on (`other`)
  kGiven = 15,    // the clutch became `keeper`'s, with its due
  kReplaced = 16  // of a parcel: `slings` of its dead arrivals were made good
};

struct SlingEvent {
  SlingEventKind kind = SlingEventKind::kShared;
  std::optional<DaySpan> day{};  // when it happened; nothing: when it was entered
  std::uint32_t slings = 0;
  std::uint32_t dead = 0;
  LotId lot{};
  KeeperId keeper{};
  KeeperId other{};
  AnimalId animal{};
  std::string words{};  // the cause, in the keeper's words
  Entry entry{};

  friend bool operator==(const SlingEvent&, const SlingEvent&) = default;
};

// What a party has of a clutch: by its loan's agreement in the order of the terms, else the owner
// alone.
struct PartyShare {
  KeeperId party{};     // of the agreement
  KeeperId receiver{};  // who gets its share: itself, unless it was passed on
  // What it was due of all that was shared out, less what it gave back.
  std::uint32_t credited = 0;
  bool waived = false;  // what is still due is given up

  friend bool operator==(const PartyShare&, const PartyShare&) = default;
};

// How many lots of a clutch a keeper has made of others.
struct LotsMade {
  KeeperId keeper{};
  std::uint32_t lots = 0;

  friend bool operator==(const LotsMade&, const LotsMade&) = default;
};

// Double entry for the slings of one clutch. Invariant, at every place in the log:
//   hatched = living + dead + raised + unaccounted
// where living = undivided + the slings of all its lots. Only `unaccounted` may be negative.
struct Accounts {
  std::uint32_t hatched = 0;    // by the highest count, alive and dead, and late ones since
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
  Hash agreement{};  // the version of the loan's agreement that shares it out; zeros without a loan
  std::vector<CountRecord> counts{};  // in order of arrival
  Accounts accounts{};
  bool shared_out = false;
  shares::Occasion occasion{};  // the sac's number; the rest as of the split
  Token split_count{};          // the count that was shared out
  // Of what was shared out, what the terms share by ratio: so much of it is in the account that
  // carries over, if one does.
  std::uint32_t slings_by_ratio = 0;
  std::vector<facts::SplitShare> shares{};  // as recorded
  std::vector<LotId> lots{};                // in order of arrival
  Entry split{};                            // by whom it was shared out, the last time
  std::vector<PartyShare> parties{};
  std::uint32_t objections_open = 0;
  std::optional<DueOffer> offer{};   // the last one, until it is accepted
  std::vector<SlingEvent> events{};  // in order of arrival
  Entry entry{};
  bool hybrid = false;             // its slings are hybrids, or may be
  std::vector<AnimalId> raised{};  // in order of arrival
  std::vector<LotsMade> lots_made{};
  // It came to nothing, and the next sac has its number, until slings of it are found after all.
  bool number_given_back = false;

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
  std::uint32_t dead_on_arrival = 0;
  std::uint32_t made_good = 0;       // of those, by later parcels that arrived
  LotId replaces{};                  // the parcel whose dead arrivals this one makes good
  KeeperId sender{};                 // of a parcel
  std::vector<SlingEvent> events{};  // in order of arrival
  Entry entry{};
  std::vector<Lease> leases{};  // in order of arrival

  friend bool operator==(const Lot&, const Lot&) = default;
};

// Terms under a name, with roles in place of keepers: the version that stands.
struct Form {
  static constexpr Kind kKind = Kind::kForm;
  FormId id{};
  std::string name{};
  std::string terms{};  // facts::ParseFormTerms reads them
  Token token{};        // of this version
  std::uint32_t version = 1;
  KeeperId keeper{};  // who saved the first
  Entry entry{};      // of this version

  friend bool operator==(const Form&, const Form&) = default;
};

// What the same parties shared at the same ratio so far, by splits that stand.
struct Carry {
  static constexpr Kind kKind = Kind::kCarry;
  CarryId id{};              // shares::CarryIdOf
  std::uint32_t slings = 0;  // within the bound of shares::CarriedAfter
  std::uint32_t splits = 0;
  ClutchId clutch{};  // of the last
  Entry entry{};      // of the last

  friend bool operator==(const Carry&, const Carry&) = default;
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
