#pragma once

// The rules of the fold, one function a kind of statement: RULES.md has each in one line.
//
// A rule checks first and writes last. It returns nothing if its statement counts, else the verdict
// on the whole commit, whose draft is then dropped. Order of checks: what is named exists; who may
// say it; the token it spends; the rest of the state; bounds.

#include <algorithm>
#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "client/facts/arrival.h"
#include "client/registry/state.h"
#include "client/registry/verdict.h"
#include "client/registry/version.h"

namespace broodpact::registry {

using Finding = std::optional<Verdict>;

// A count that lost against the standing one: kept beside it.
struct RivalCount {
  ClutchId clutch{};
  CountRecord count{};
};

// A loan whose last signature came when its animal was promised already.
struct LostLoan {
  LoanId loan{};
  LoanId winner{};
  std::string reason{};
};

// What stays of a commit that does not count: all that such a commit ever changes.
struct Aftermath {
  std::optional<Clash> clash{};
  std::optional<RivalCount> rival{};
  std::optional<LostLoan> lost_loan{};
  std::vector<IdBytes> frozen{};
};

// What a commit makes hybrids of, to be marked with all its descendants once the commit counts.
struct ToMark {
  std::vector<AnimalId> animals{};
  std::vector<ClutchId> clutches{};
};

// One commit being folded.
struct Case {
  State& state;
  const facts::Arrived& arrived;
  Token token;  // what this commit makes
  // What brought the commit, if it is stated again in another one. Outlives the case.
  const facts::Commit* around = nullptr;
  IdBytes stretch{};  // that its place lies in (fold_once.cc)
  Entry entry;        // of all that it enters; entry.keeper is its author, once known
  Verdict counted{};  // the verdict if it counts: plain, or with the first flag
  Aftermath aftermath{};
  ToMark hybrids{};

  const KeeperId& author() const { return entry.keeper; }
};

// A subject that another one names, so that it exists. If the source fails, an empty one: the
// verdict is worthless then, and the caller of Fold finds out.
template <typename Subject, typename AnyId>
const Subject& Known(Case& c, const AnyId& id) {
  static const Subject nothing;
  const Subject* found = c.state.Find<Subject>(id);
  return found != nullptr ? *found : nothing;
}

Finding Refused(std::string_view reason, std::string message);
Finding Void(std::string_view reason, std::string message);
// `winner_arrival`: 0 if what beat it is provisional, or unknown.
Finding Superseded(std::string_view reason, std::string message, std::uint64_t winner_arrival);

// Lets a fact count with a remark. The first remark of a commit is the one that is kept.
void Flag(Case& c, std::string_view reason, std::string message);

// Flags a day that lies more than a day after the arrival (a day, for time zones).
void FlagFuture(Case& c, const DaySpan& day);

// Whether a list of a subject has room; else REFUSED TOO_MANY_RECORDS.
Finding CheckRoom(std::size_t records, std::string_view what);

// The same of a list that several keepers add to, of records with their entry. From half of it on,
// who has a quarter adds nothing more, and all fill three quarters at most: nobody keeps the others
// out, nor a split.
Finding CheckShareOfRoom(std::size_t own, std::size_t records, std::string_view what);
template <typename Record>
Finding CheckShareOfRoom(const Case& c, const std::vector<Record>& records, std::string_view what) {
  const auto own = std::ranges::count_if(
      records, [&](const Record& one) { return one.entry.keeper == c.author(); });
  return CheckShareOfRoom(static_cast<std::size_t>(own), records.size(), what);
}

// The same of a list of an animal, of which others than its owner and holder fill a quarter at
// most: nobody leaves no room for what they have to enter.
Finding CheckRoomOf(Case& c, const Animal& animal, std::size_t records, std::string_view what);

// REFUSED UNKNOWN_SUBJECT. `what` as in "animal".
Finding UnknownSubject(std::string_view what, const IdBytes& id);

// REFUSED ID_TAKEN.
Finding IdTaken(std::string_view what, const IdBytes& id);

// What people call a subject: its name, else the short form of its id.
std::string NameOf(Case& c, const KeeperId& keeper);
std::string NameOf(Case& c, const AnimalId& animal);
std::string NameOf(const Animal& animal);
std::string NameOf(const Loan& loan);
std::string NameOf(const Clutch& clutch);
std::string NameOf(const Lot& lot);

bool IsKeeper(Case& c, const KeeperId& keeper);
bool Keeps(const Animal& animal, const KeeperId& keeper);  // owns or holds it

// How many keepers may have left one after the other, each for the next.
inline constexpr int kSuccessionsMax = 8;

// Whether the author is this keeper, or acts for it: named by itself; or by a registrar, since it
// left or has no device left.
bool ActsFor(Case& c, const KeeperId& keeper);

// Whether the author acts for a party of a clutch, or for who has a party's share.
bool ActsForParty(Case& c, const Clutch& clutch);

// VOID NOT_YOUR_CLUTCH unless the author acts for the owner or the holder of the clutch.
Finding CheckKeepsClutch(Case& c, const ClutchId& clutch);

// All whom a clutch concerns: its parties, who has their shares, owner and holder.
std::vector<KeeperId> ConcernedBy(const Clutch& clutch);

// VOID NOT_YOUR_ANIMAL.
Finding CheckKeeps(Case& c, const Animal& animal);

// Records a death; an earlier one entered before stands. Flags.
void RecordDeath(Case& c, const AnimalId& animal, const DaySpan& day, std::string_view cause);

// Flags a day after the animal's death.
void FlagAfterDeath(Case& c, const Animal& animal, const DaySpan& day);

// REFUSED NAME_TAKEN if the author has a living animal of that name.
Finding CheckAnimalName(Case& c, std::string_view name);

// What an animal begins with.
struct AnimalStart {
  AnimalId animal{};
  GroupId group{};
  std::string_view name{};
  facts::Sex sex = facts::Sex::kUnknown;
  facts::SexMethod method = facts::SexMethod::kUnspecified;
  DaySpan sex_day{};
};

// Enters an animal of the author's. The caller has checked that it may be.
Animal& EnterAnimal(Case& c, const AnimalStart& start);

// The group that goes on for a group: itself, unless it was merged into another.
GroupId OpenGroup(Case& c, GroupId group);

// Marks what the commit makes hybrids of, with all descendants, as far as they are entered. What is
// marked stays so, and is gone through once only. Last of all, when the commit is known to count: a
// refused one would have all be gone through for nothing, as often as it is sent.
void MarkHybrids(Case& c);

// Whether two animals, were they paired, would have hybrids.
bool MakesHybrids(const Animal& one, const Animal& other);

// A pairing came in: if it makes hybrids, marks it, and notes the clutches that may be of it.
void NotePairing(Case& c, const PairingId& pairing);

// A sac was laid: notes it if a pairing that may have sired it makes hybrids.
void NoteLaying(Case& c, const ClutchId& clutch);

// An animal came in with parents, or out of a clutch: links it to them, and notes it as they are.
void NoteDescent(Case& c, const AnimalId& animal);

// The token of a custody that a statement would spend.
struct Spending {
  Token token{};
  KeeperId receiver{};           // whom the statement would give it to
  std::string_view statement{};  // as in "gift"
};

// Checks that the author has the ownership, or the holding, and names its token.
// VOID NOT_OWNER or NOT_HOLDER; SUPERSEDED TOKEN_SPENT, with a clash if the author had it once;
// SUPERSEDED LEASE_STANDS.
Finding CheckOwnership(Case& c, const Animal& animal, const Spending& spending);
Finding CheckHolding(Case& c, const Animal& animal, const Spending& spending);

// Passes the ownership, or the holding, on: its token is spent, and this commit makes the next.
void PassOwnership(Case& c, Animal& animal, const KeeperId& to);
void PassHolding(Case& c, Animal& animal, const KeeperId& to);

// A clash about a subject; its parties are completed by the caller. No party twice.
struct ClashStart {
  Kind kind = Kind::kAnimal;
  IdBytes subject{};
  std::string reason{};
  std::string message{};
  std::vector<KeeperId> parties{};
  std::uint64_t winner_arrival = 0;
};
Clash ClashOf(const Case& c, ClashStart start);

// The count that stands; nullptr before the first.
const CountRecord* StandingCount(const Clutch& clutch);

// Makes a recorded count the one that stands; what differs is booked openly.
// REFUSED UNKNOWN_COUNT, COUNT_TOO_LOW, COUNT_OUT_OF_RANGE.
Finding AdoptCount(Case& c, const ClutchId& clutch, const Token& count_token);

// Shares out what is undivided as all parties agreed, otherwise than by the terms.
// SUPERSEDED ALREADY_SHARED; REFUSED SPLIT_DIFFERS, SPLIT_SUM, LOT_MISSING, ID_TAKEN.
Finding ShareOutAsAgreed(Case& c, const ClutchId& clutch,
                         const std::vector<facts::SplitShare>& shares);

// Slings taken out of a lot into a new one.
struct Taking {
  LotId lot{};
  LotId new_lot{};
  KeeperId owner{};  // of the new lot
  std::uint32_t slings = 0;
  SlingEventKind kind = SlingEventKind::kPassed;  // what it is to the lot
  std::optional<DaySpan> day{};
};

// Checks that they can be taken: both lots, how many, none under way, room for the story.
Finding CheckTaking(Case& c, const Taking& taking);
// Takes them. The new lot is where the old one is.
Lot& Take(Case& c, const Taking& taking);

// Awards slings of a lot of this clutch to another keeper, by a settlement.
Finding Award(Case& c, const ClutchId& clutch, const std::vector<KeeperId>& parties,
              const facts::LotMove& move);

// REFUSED LOT_UNDER_WAY; NO_SLINGS, INSUFFICIENT.
Finding CheckSettled(Case& c, const Lot& lot);
Finding CheckSlings(const Lot& lot, std::uint32_t slings);

// The dues that run with a female now.
std::vector<LoanId> DuesRunningWith(Case& c, const Animal& female);

// Checks that a gift discloses the dues that run, no more and no less: REFUSED DUE_UNDISCLOSED,
// DUE_OTHER.
Finding CheckDisclosure(Case& c, std::string_view what, const std::vector<LoanId>& running,
                        const std::vector<LoanId>& disclosed);

Finding Apply(Case& c, const facts::Unknown& s);
Finding Apply(Case& c, const facts::Founding& s);
Finding Apply(Case& c, const facts::Invitation& s);
Finding Apply(Case& c, const facts::Joining& s);
Finding Apply(Case& c, const facts::Restatement& s);
Finding Apply(Case& c, const facts::GroupEntry& s);
Finding Apply(Case& c, const facts::AnimalEntry& s);
Finding Apply(Case& c, const facts::Moult& s);
Finding Apply(Case& c, const facts::Maturity& s);
Finding Apply(Case& c, const facts::SexClaim& s);
Finding Apply(Case& c, const facts::Death& s);
Finding Apply(Case& c, const facts::Gift& s);
Finding Apply(Case& c, const facts::NameUse& s);
Finding Apply(Case& c, const facts::GroupMove& s);
Finding Apply(Case& c, const facts::GroupClosure& s);
Finding Apply(Case& c, const facts::FounderKinship& s);
Finding Apply(Case& c, const facts::LoanProposal& s);
Finding Apply(Case& c, const facts::LoanSignature& s);
Finding Apply(Case& c, const facts::LoanAmendment& s);
Finding Apply(Case& c, const facts::LoanRefusal& s);
Finding Apply(Case& c, const facts::Dispatch& s);
Finding Apply(Case& c, const facts::Receipt& s);
Finding Apply(Case& c, const facts::LoanClosure& s);
Finding Apply(Case& c, const facts::Pairing& s);
Finding Apply(Case& c, const facts::SacLaying& s);
Finding Apply(Case& c, const facts::SacPulling& s);
Finding Apply(Case& c, const facts::SacLoss& s);
Finding Apply(Case& c, const facts::Count& s);
Finding Apply(Case& c, const facts::SplitRecord& s);
Finding Apply(Case& c, const facts::LotDispatch& s);
Finding Apply(Case& c, const facts::LotReceipt& s);
Finding Apply(Case& c, const facts::LotLoss& s);
Finding Apply(Case& c, const facts::LotRaising& s);
Finding Apply(Case& c, const facts::Objection& s);
Finding Apply(Case& c, const facts::ClashWithdrawal& s);
Finding Apply(Case& c, const facts::ClashSettlement& s);
Finding Apply(Case& c, const facts::ClashSignature& s);
Finding Apply(Case& c, const facts::LateHatching& s);
Finding Apply(Case& c, const facts::ShareWaiver& s);
Finding Apply(Case& c, const facts::LotReturn& s);
Finding Apply(Case& c, const facts::LotPassing& s);
Finding Apply(Case& c, const facts::LotDivision& s);
Finding Apply(Case& c, const facts::LotMerging& s);
Finding Apply(Case& c, const facts::Succession& s);
Finding Apply(Case& c, const facts::SacGift& s);
Finding Apply(Case& c, const facts::DueAcceptance& s);
Finding Apply(Case& c, const facts::PlanVeto& s);
Finding Apply(Case& c, const facts::WantEntry& s);
Finding Apply(Case& c, const facts::WantEnd& s);
Finding Apply(Case& c, const facts::TermsForm& s);
Finding Apply(Case& c, const facts::CountWitness& s);
Finding Apply(Case& c, const facts::DeviceInvitation& s);
Finding Apply(Case& c, const facts::DeviceJoining& s);
Finding Apply(Case& c, const facts::Revocation& s);
Finding Apply(Case& c, const facts::Adoption& s);
Finding Apply(Case& c, const facts::KeyRotation& s);
Finding Apply(Case& c, const facts::RoleChange& s);
Finding Apply(Case& c, const facts::MotionSignature& s);
Finding Apply(Case& c, const facts::Leaving& s);
Finding Apply(Case& c, const facts::LeaseTaking& s);
Finding Apply(Case& c, const facts::LeaseRelease& s);
Finding Apply(Case& c, const facts::SealingKeyEntry& s);
Finding Apply(Case& c, const facts::SealedEntry& s);
Finding Apply(Case& c, const facts::Resealing& s);

// Whether the commit of this case, which is stated again in the one around it, may be; enters it as
// a branch then. fold_restatement.cc
Finding CheckRestatement(Case& c);

// The stretch (registry/branch.h) in which a commit has its place.
IdBytes StretchOf(const facts::CommitHeader& header);

// Whether the commit of this case counts already: SUPERSEDED ALREADY_ARRIVED if by itself,
// ALREADY_RESTATED if by another commit that tells it. fold_once.cc
Finding CheckOnce(Case& c);

// Remembers that the commit of this case, which came by itself, counts.
void NoteCounted(Case& c);

// Enters the commit of this case as one that is adopted or stated again. As CheckOnce.
Finding EnterBranch(Case& c);

// What a newcomer says of the invitation that it spends.
struct Entrance {
  KeeperId keeper{};
  PublicKey device_key{};
  Signature signature{};
  bool further_device = false;  // of a keeper who is in
};

// Whether an invitation lets this newcomer in. VOID INVITE_UNKNOWN, INVITE_SIGNATURE_BAD,
// INVITE_OTHER, INVITE_WITHDRAWN; SUPERSEDED INVITE_USED.
Finding CheckInvite(Case& c, const InviteId& id, const Entrance& entrance);

// Keeps the aftermath of a commit that does not count, in the present draft.
void ApplyAftermath(Case& c);

// Stops the program if the books of a clutch do not add up: it would be our mistake.
void CheckBooks(Case& c, const Accounts& accounts);

// The subjects that a statement names, for the check against frozen ones.
std::vector<IdBytes> NamedBy(const facts::Statement& statement);

}  // namespace broodpact::registry
