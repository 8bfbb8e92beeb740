// Pairings and sacs: Pairing, SacLaying, SacPulling, SacLoss.

#include <algorithm>

#include "fmt/core.h"

#include "client/registry/female_dues.h"
#include "client/registry/internal/basis.h"
#include "client/registry/internal/rules.h"
#include "client/registry/version.h"

namespace broodpact::registry {
namespace {

Finding CheckPair(Case& c, const Animal& male, const Animal& female) {
  if (!Keeps(male, c.author()) && !Keeps(female, c.author())) {
    return Void("NOT_YOUR_ANIMAL", fmt::format("neither {} nor {} is yours or with you",
                                               NameOf(male), NameOf(female)));
  }
  if (male.id == female.id) {
    return Refused("SEX_CONTRADICTS", "an animal is not paired with itself");
  }
  if (male.sex == facts::Sex::kFemale) {
    return Refused("SEX_CONTRADICTS",
                   fmt::format("{} is known to be female; correct the sex first", NameOf(male)));
  }
  if (female.sex == facts::Sex::kMale) {
    return Refused("SEX_CONTRADICTS",
                   fmt::format("{} is known to be male; correct the sex first", NameOf(female)));
  }
  if (Finding f = CheckRoomOf(c, male, male.pairings.size(), "pairings")) return f;
  return CheckRoomOf(c, female, female.pairings.size(), "pairings");
}

// Whether the author may say of a female that she was paired: who owns or holds her; and a party of
// a loan of either animal that her owner has signed too.
bool SpeaksForFemale(Case& c, const Animal& female, const facts::Pairing& s) {
  if (Keeps(female, c.author())) return true;
  const Loan* loan = c.state.Find<Loan>(s.loan);
  if (loan == nullptr || (loan->animal != s.male && loan->animal != s.female)) return false;
  return !SeatOf(female, *loan, c.author()).empty() && !SeatOf(female, *loan, female.owner).empty();
}

void FlagClaimed(Case& c, const Animal& male, const Animal& female) {
  Flag(
      c, "FLAG_PAIRING_CLAIMED",
      fmt::format("{} is owned by {} and held by {}; until one of them states it too, this gives "
                  "{} no part in a clutch of hers",
                  NameOf(female), NameOf(c, female.owner), NameOf(c, female.holder), NameOf(male)));
}

void FlagHybrid(Case& c, const facts::Pairing& s) {
  const bool across = Known<Animal>(c, s.male).group != Known<Animal>(c, s.female).group;
  if (!across || s.hybrid_intended) return;
  Flag(c, "FLAG_HYBRID",
       fmt::format("{} and {} are of different groups, and nobody said that hybrids are meant; "
                   "all offspring are marked",
                   NameOf(c, s.male), NameOf(c, s.female)));
}

// He was eaten, as her keeper saw. His own keeper states the death if he was not with her keeper.
void NoteEaten(Case& c, const facts::Pairing& s) {
  const Animal& male = Known<Animal>(c, s.male);
  if (Keeps(male, c.author())) return RecordDeath(c, s.male, s.day, "eaten by the female");
  Flag(c, "FLAG_DEATH_CLAIMED",
       fmt::format("{} is owned by {} and held by {}; one of them has to state the death",
                   NameOf(male), NameOf(c, male.owner), NameOf(c, male.holder)));
}

// The parties of the version of a loan's agreement that shares what she lays on a day.
std::span<const KeeperId> PartiesAt(const Animal& female, const Loan& loan, const DaySpan& laying) {
  const Hash version = VersionOfSac(female, loan, laying);
  return VersionOf(loan, version).value_or(AgreedVersion{}).parties;
}

// The loan whose agreement would share the clutch: it binds the mother's owner only by consent.
Finding CheckClutchLoan(Case& c, const facts::SacLaying& s, const Animal& female) {
  const Loan* loan = c.state.Find<Loan>(s.loan);
  if (loan == nullptr) return UnknownSubject("loan", s.loan.bytes);
  if (SeatOf(female, *loan, c.author()).empty()) {
    return Void("NOT_PARTY", fmt::format("you are no party of {}", NameOf(*loan)));
  }
  if (loan->state != LoanState::kInForce && loan->state != LoanState::kClosed) {
    return Refused("LOAN_STATE",
                   fmt::format("{} was never in force and shares nothing", NameOf(*loan)));
  }
  const std::span<const KeeperId> parties = PartiesAt(female, *loan, s.day);
  const KeeperId seat = SeatOf(female, *loan, female.owner);
  if (std::find(parties.begin(), parties.end(), seat) == parties.end()) {
    return Refused("OWNER_NOT_PARTY",
                   fmt::format("{}, who owns {}, did not sign {}", NameOf(c, female.owner),
                               NameOf(female), NameOf(*loan)));
  }
  return std::nullopt;
}

// The parties of a clutch: of its loan, with who stands in their place since she changed hands.
std::vector<PartyShare> PartiesOf(Case& c, const Animal& female, const facts::SacLaying& s) {
  if (s.loan.empty()) return {{.party = female.owner, .receiver = female.owner}};
  std::vector<PartyShare> parties;
  for (const KeeperId& party : PartiesAt(female, Known<Loan>(c, s.loan), s.day)) {
    PartyShare share{.party = party, .receiver = party};
    for (const DueRecord& due : female.dues) {
      const bool stands = due.keeper == female.owner;  // she may have gone on without it since
      if (stands && due.loan == s.loan && due.party == party) share.receiver = due.keeper;
    }
    parties.push_back(share);
  }
  return parties;
}

}  // namespace

Finding Apply(Case& c, const facts::Pairing& s) {
  if (c.state.Find<Pairing>(s.pairing) != nullptr) return IdTaken("pairing", s.pairing.bytes);
  const Animal* male = c.state.Find<Animal>(s.male);
  if (male == nullptr) return UnknownSubject("animal", s.male.bytes);
  const Animal* female = c.state.Find<Animal>(s.female);
  if (female == nullptr) return UnknownSubject("animal", s.female.bytes);
  if (Finding f = CheckPair(c, *male, *female)) return f;
  if (!s.loan.empty() && c.state.Find<Loan>(s.loan) == nullptr) {
    return UnknownSubject("loan", s.loan.bytes);
  }

  FlagFuture(c, s.day);
  FlagAfterDeath(c, *male, s.day);
  FlagAfterDeath(c, *female, s.day);
  const bool claimed = !SpeaksForFemale(c, *female, s);
  Pairing& pairing = c.state.Create<Pairing>(s.pairing);
  pairing.male = s.male;
  pairing.female = s.female;
  pairing.day = s.day;
  pairing.outcome = s.outcome;
  pairing.loan = s.loan;
  pairing.male_owner = c.state.Find<Animal>(s.male)->owner;
  pairing.entry = c.entry;
  pairing.claimed = claimed;
  c.state.Edit<Animal>(s.male).pairings.push_back(s.pairing);
  c.state.Edit<Animal>(s.female).pairings.push_back(s.pairing);
  if (claimed) {
    FlagClaimed(c, Known<Animal>(c, s.male), Known<Animal>(c, s.female));
  } else {
    NotePairing(c, s.pairing);
    FlagHybrid(c, s);
  }
  if (s.outcome == facts::PairingOutcome::kMaleEaten) NoteEaten(c, s);
  return std::nullopt;
}

Finding Apply(Case& c, const facts::SacLaying& s) {
  if (c.state.Find<Clutch>(s.clutch) != nullptr) return IdTaken("clutch", s.clutch.bytes);
  const Animal* female = c.state.Find<Animal>(s.female);
  if (female == nullptr) return UnknownSubject("animal", s.female.bytes);
  if (Finding f = CheckKeeps(c, *female)) return f;
  if (female->sex == facts::Sex::kMale) {
    return Refused("SEX_CONTRADICTS",
                   fmt::format("{} is known to be male; correct the sex first", NameOf(*female)));
  }
  if (Finding f = CheckRoom(female->clutches.size(), "clutches")) return f;
  std::uint32_t sac_number = 1;
  if (!s.loan.empty()) {
    if (Finding f = CheckClutchLoan(c, s, *female)) return f;
    const Loan& loan = Known<Loan>(c, s.loan);
    sac_number = NextSacNumber(loan, s.female);
    const CoveredSac sac{.female = s.female, .laying = s.day, .number = sac_number};
    if (Finding f = CheckCovered(c, loan, sac)) return f;
    if (Finding f = TallySac(c, s.loan, s.female)) return f;
  }

  FlagFuture(c, s.day);
  FlagAfterDeath(c, *female, s.day);
  Clutch& clutch = c.state.Create<Clutch>(s.clutch);
  clutch.name = s.name;
  clutch.female = s.female;
  clutch.owner = female->owner;
  clutch.holder = female->holder;
  clutch.laying = s.day;
  clutch.loan = s.loan;
  if (!s.loan.empty()) clutch.agreement = VersionOfSac(*female, Known<Loan>(c, s.loan), s.day);
  clutch.parties = PartiesOf(c, *female, s);
  clutch.occasion.sac_number = sac_number;
  clutch.entry = c.entry;
  c.state.Edit<Animal>(s.female).clutches.push_back(s.clutch);
  NoteLaying(c, s.clutch);
  ++c.state.EditCooperative().clutches;
  return std::nullopt;
}

Finding Apply(Case& c, const facts::SacPulling& s) {
  if (Finding f = CheckKeepsClutch(c, s.clutch)) return f;
  const Clutch* before = c.state.Find<Clutch>(s.clutch);
  FlagFuture(c, s.day);
  if (before->pulling.has_value() && before->pulling != s.day) {
    Flag(c, "FLAG_PULLING_CHANGED",
         fmt::format("{} was recorded as pulled on {}; this entry replaces it", NameOf(*before),
                     ToText(*before->pulling)));
  }
  c.state.Edit<Clutch>(s.clutch).pulling = s.day;
  return std::nullopt;
}

Finding Apply(Case& c, const facts::SacLoss& s) {
  if (Finding f = CheckKeepsClutch(c, s.clutch)) return f;
  const Clutch* before = c.state.Find<Clutch>(s.clutch);
  if (!before->counts.empty()) {
    return Refused(
        "CLUTCH_COUNTED",
        fmt::format("{} has been counted; count again, or enter losses by lot", NameOf(*before)));
  }
  FlagFuture(c, s.day);
  if (before->loss.has_value()) {
    Flag(c, "FLAG_ALREADY_LOST",
         fmt::format("{} is recorded as lost on {}; this entry replaces it", NameOf(*before),
                     ToText(*before->loss)));
  }
  if (!before->loss.has_value()) GiveNumberBack(c, s.clutch);
  Clutch& lost = c.state.Edit<Clutch>(s.clutch);
  lost.loss = s.day;
  lost.loss_cause = s.cause;
  return std::nullopt;
}

}  // namespace broodpact::registry
