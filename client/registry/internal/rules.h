#pragma once

// The rules of the fold, one function a kind of statement: RULES.md has each in one line.
//
// A rule checks first and writes last. It returns nothing if its statement counts, else the verdict
// on the whole commit, whose draft is then dropped. Order of checks: what is named exists; who may
// say it; the token it spends; the rest of the state; bounds.

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "client/facts/arrival.h"
#include "client/registry/state.h"
#include "client/registry/verdict.h"

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

// One commit being folded.
struct Case {
  State& state;
  const facts::Arrived& arrived;
  Token token;        // what this commit makes
  Entry entry;        // of all that it enters; entry.keeper is its author, once known
  Verdict counted{};  // the verdict if it counts: plain, or with the first flag
  Aftermath aftermath{};

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
bool IsPartyOf(const Loan& loan, const KeeperId& keeper);
bool Keeps(const Animal& animal, const KeeperId& keeper);  // owns or holds it

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

// The token of a custody that a statement would spend.
struct Spending {
  Token token{};
  KeeperId receiver{};           // whom the statement would give it to
  std::string_view statement{};  // as in "gift"
};

// Checks that the author has the ownership, or the holding, and names its token.
// VOID NOT_OWNER or NOT_HOLDER; SUPERSEDED TOKEN_SPENT, with a clash if the author had it once.
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

Finding Apply(Case& c, const facts::Unknown& s);
Finding Apply(Case& c, const facts::Founding& s);
Finding Apply(Case& c, const facts::Invitation& s);
Finding Apply(Case& c, const facts::Joining& s);
Finding Apply(Case& c, const facts::GroupEntry& s);
Finding Apply(Case& c, const facts::AnimalEntry& s);
Finding Apply(Case& c, const facts::Moult& s);
Finding Apply(Case& c, const facts::Maturity& s);
Finding Apply(Case& c, const facts::SexClaim& s);
Finding Apply(Case& c, const facts::Death& s);
Finding Apply(Case& c, const facts::Gift& s);
Finding Apply(Case& c, const facts::LoanProposal& s);
Finding Apply(Case& c, const facts::LoanSignature& s);
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
Finding Apply(Case& c, const facts::PlanVeto& s);
Finding Apply(Case& c, const facts::WantEntry& s);
Finding Apply(Case& c, const facts::WantEnd& s);

// Keeps the aftermath of a commit that does not count, in the present draft.
void ApplyAftermath(Case& c);

// Stops the program if the books of a clutch do not add up: it would be our mistake.
void CheckBooks(Case& c, const Accounts& accounts);

// The subjects that a statement names, for the check against frozen ones.
std::vector<IdBytes> NamedBy(const facts::Statement& statement);

}  // namespace broodpact::registry
