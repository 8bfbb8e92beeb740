#include "client/registry/index.h"

#include <algorithm>
#include <set>
#include <utility>

#include "client/registry/version.h"

namespace broodpact::registry {
namespace {

using Entries = std::vector<std::string>;

constexpr char kByName = 'n';
constexpr char kByGroup = 'g';
constexpr char kByOwner = 'o';
constexpr char kByHolder = 'h';
constexpr char kLoansByParty = 'l';
constexpr char kAmendmentsByParty = 'a';
constexpr char kLotsByKeeper = 't';
constexpr char kClashesByParty = 'p';
constexpr char kClashesBySubject = 'c';
constexpr char kClutchesByShare = 's';
constexpr char kOffersByReceiver = 'w';
constexpr char kVetoes = 'v';
constexpr char kWantsByGroup = 'x';
constexpr char kWantsByKeeper = 'y';
constexpr char kNotesBySubject = 'd';
constexpr char kNotesByReader = 'r';

// What an animal is to its group.
constexpr char kEndedMale = 'e';
constexpr char kLivingFemale = 'f';
constexpr char kImmatureMale = 'i';
constexpr char kMatureMale = 'm';
constexpr char kOther = 'o';

// What a sealed note is to a keeper: in this order.
constexpr char kOwnNote = 'o';
constexpr char kNoteOfOther = 'r';

// What an animal is to its owner.
constexpr char kDead = 'd';
constexpr char kLiving = 'l';

char Folded(char c) {
  return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
}

void AppendFolded(std::string& entry, std::string_view name) {
  for (const char c : name) entry.push_back(Folded(c));
  entry.push_back('\0');
}

std::string Prefix(char index, const IdBytes& id) {
  std::string entry;
  entry.reserve(1 + 2 * sizeof(IdBytes) + sizeof(std::uint32_t));
  entry.push_back(index);
  entry.append(ViewOf(id));
  return entry;
}

std::string Prefix(char index, const IdBytes& id, char what) {
  std::string entry = Prefix(index, id);
  entry.push_back(what);
  return entry;
}

std::string EntryOf(std::string prefix, const IdBytes& id) {
  prefix.append(ViewOf(id));
  return prefix;
}

// Four bytes that sort as the days do.
void AppendDay(std::string& entry, Day day) {
  const std::uint32_t number = static_cast<std::uint32_t>(day.number) ^ 0x8000'0000U;
  for (int shift = 24; shift >= 0; shift -= 8) {
    entry.push_back(static_cast<char>((number >> shift) & 0xFFU));
  }
}

Day DayAt(std::string_view entry, std::size_t place) {
  std::uint32_t number = 0;
  for (const char c : entry.substr(place, 4)) number = (number << 8) | static_cast<std::uint8_t>(c);
  return Day{static_cast<std::int32_t>(number ^ 0x8000'0000U)};
}

Entries InOrder(Entries entries) {
  std::sort(entries.begin(), entries.end());
  entries.erase(std::unique(entries.begin(), entries.end()), entries.end());
  return entries;
}

template <typename Subject>
Entries NameEntryOf(const Subject& value) {
  if (value.name.empty()) return {};
  return {EntryOf(NamePrefix(Subject::kKind, value.name), value.id.bytes)};
}

std::string ByOwnerAndName(const KeeperId& owner, char life, std::string_view name) {
  std::string entry;
  entry.reserve(3 + name.size() + 2 * sizeof(IdBytes));
  entry.push_back(kByOwner);
  entry.append(ViewOf(owner.bytes));
  entry.push_back(life);
  AppendFolded(entry, name);
  return entry;
}

// Its place in its group, up to the id.
std::string ByGroup(const Animal& animal) {
  const bool is_mature_male = animal.sex == facts::Sex::kMale && animal.maturity.has_value();
  if (is_mature_male && animal.death.has_value()) {
    std::string prefix = EndedMalesOfGroup(animal.group);
    AppendDay(prefix, MiddleOf(*animal.maturity));
    AppendDay(prefix, MiddleOf(*animal.death));
    AppendDay(prefix, DayOfMillis(animal.entry.time_ms));
    return prefix;
  }
  if (is_mature_male) {
    std::string prefix = MatureMalesOfGroup(animal.group);
    AppendDay(prefix, MiddleOf(*animal.maturity));
    AppendDay(prefix, DayOfMillis(animal.entry.time_ms));
    return prefix;
  }
  if (animal.sex == facts::Sex::kMale && !animal.death.has_value() && animal.hatching.has_value()) {
    std::string prefix = ImmatureMalesOfGroup(animal.group);
    AppendDay(prefix, MiddleOf(*animal.hatching));
    return prefix;
  }
  if (animal.sex == facts::Sex::kFemale && !animal.death.has_value()) {
    return FemalesOfGroup(animal.group);
  }
  return Prefix(kByGroup, animal.group.bytes, kOther);
}

// Dead arrivals of a parcel wait to be made good, if that was agreed.
bool HasToReplace(const Lot& lot) {
  return lot.dead_on_arrival > lot.made_good;
}

// A sac that may still bring slings, or slings that are nobody's yet.
bool HasToShare(const Clutch& clutch) {
  if (clutch.counts.empty()) return !clutch.loss.has_value();
  return clutch.accounts.undivided > 0;
}

bool IsListed(const Loan& loan) {
  return loan.state != LoanState::kDeclined && loan.state != LoanState::kSuperseded &&
         loan.state != LoanState::kClosed;
}

// Who has yet to sign an amendment of the loan that is open. Each once.
std::set<KeeperId> AwaitedOf(const Loan& loan) {
  std::set<KeeperId> awaited;
  for (const LoanVersion& version : loan.versions) {
    if (version.state != VersionState::kOpen) continue;
    for (const KeeperId& signer : SignersOf(loan, version)) {
      if (!HasSigned(version.signatures, signer)) awaited.insert(signer);
    }
  }
  return awaited;
}

}  // namespace

std::vector<std::string> IndexEntriesOf(const Cooperative&) {
  return {};
}
std::vector<std::string> IndexEntriesOf(const Keeper& value) {
  return NameEntryOf(value);
}
std::vector<std::string> IndexEntriesOf(const Device&) {
  return {};
}
std::vector<std::string> IndexEntriesOf(const Invite&) {
  return {};
}
std::vector<std::string> IndexEntriesOf(const Group& value) {
  return NameEntryOf(value);
}

std::vector<std::string> IndexEntriesOf(const Animal& value) {
  Entries entries = NameEntryOf(value);
  const auto add = [&](std::string prefix) {
    entries.push_back(EntryOf(std::move(prefix), value.id.bytes));
  };
  add(ByGroup(value));
  add(ByOwnerAndName(value.owner, value.death.has_value() ? kDead : kLiving, value.name));
  if (value.holder != value.owner) add(AnimalsOfHolder(value.holder));
  if (value.offer.has_value()) add(AnimalsOffered(value.offer->receiver));
  return InOrder(std::move(entries));
}

std::vector<std::string> IndexEntriesOf(const Loan& value) {
  Entries entries = NameEntryOf(value);
  if (IsListed(value)) {
    for (const KeeperId& party : value.parties) {
      entries.push_back(EntryOf(LoansOfParty(party), value.id.bytes));
    }
  }
  for (const KeeperId& keeper : AwaitedOf(value)) {
    entries.push_back(EntryOf(AmendmentsAwaiting(keeper), value.id.bytes));
  }
  return InOrder(std::move(entries));
}

std::vector<std::string> IndexEntriesOf(const Pairing&) {
  return {};
}
std::vector<std::string> IndexEntriesOf(const Clutch& value) {
  Entries entries = NameEntryOf(value);
  if (HasToShare(value)) {
    for (const PartyShare& share : value.parties) {
      entries.push_back(EntryOf(ClutchesToShare(share.receiver), value.id.bytes));
    }
  }
  if (value.offer.has_value()) {
    entries.push_back(EntryOf(ClutchesOffered(value.offer->receiver), value.id.bytes));
  }
  return InOrder(std::move(entries));
}

std::vector<std::string> IndexEntriesOf(const Lot& value) {
  Entries entries;
  if (value.slings == 0 && !HasToReplace(value)) return entries;
  const KeeperId sender = HasToReplace(value) ? value.sender : KeeperId{};
  for (const KeeperId& keeper : {value.owner, value.holder, value.receiver, sender}) {
    if (!keeper.empty()) entries.push_back(EntryOf(LotsOfKeeper(keeper), value.id.bytes));
  }
  return InOrder(std::move(entries));
}

std::vector<std::string> IndexEntriesOf(const Clash& value) {
  Entries entries = {EntryOf(ClashesAbout(value.subject), value.id.bytes)};
  if (value.state != ClashState::kOpen) return entries;
  for (const KeeperId& party : value.parties) {
    entries.push_back(EntryOf(ClashesOfParty(party), value.id.bytes));
  }
  return InOrder(std::move(entries));
}

std::vector<std::string> IndexEntriesOf(const Frozen&) {
  return {};
}
std::vector<std::string> IndexEntriesOf(const Branch&) {
  return {};
}
std::vector<std::string> IndexEntriesOf(const Stretch&) {
  return {};
}

std::vector<std::string> IndexEntriesOf(const Veto& value) {
  if (value.stance == facts::VetoStance::kLifted) return {};
  return {EntryOf(StandingVetoes(), value.id.bytes)};
}

std::vector<std::string> IndexEntriesOf(const Want& value) {
  if (value.state == WantState::kEnded) return {};
  return InOrder({EntryOf(WantsOfGroup(value.group), value.id.bytes),
                  EntryOf(WantsOfKeeper(value.keeper), value.id.bytes)});
}
std::vector<std::string> IndexEntriesOf(const Form& value) {
  return NameEntryOf(value);
}
std::vector<std::string> IndexEntriesOf(const Carry&) {
  return {};
}
std::vector<std::string> IndexEntriesOf(const Motion&) {
  return {};
}
std::vector<std::string> IndexEntriesOf(const SealingKey&) {
  return {};
}

std::vector<std::string> IndexEntriesOf(const SealedNote& value) {
  if (value.state != NoteState::kStanding) return {};
  // Own ones come first in a keeper's list, so that others cannot crowd them out of its beginning.
  Entries entries = {EntryOf(SealedNotesAbout(value.subject), value.id.bytes),
                     EntryOf(Prefix(kNotesByReader, value.keeper.bytes, kOwnNote), value.id.bytes)};
  for (const KeeperId& reader : value.readers) {
    if (reader == value.keeper) continue;
    entries.push_back(EntryOf(Prefix(kNotesByReader, reader.bytes, kNoteOfOther), value.id.bytes));
  }
  return InOrder(std::move(entries));
}

bool SameIndexEntries(const Animal& a, const Animal& b) {
  return a.name == b.name && a.group == b.group && a.owner == b.owner && a.holder == b.holder &&
         a.death == b.death && a.sex == b.sex && a.maturity == b.maturity &&
         a.hatching == b.hatching && a.offer == b.offer;
}

bool SameIndexEntries(const Loan& a, const Loan& b) {
  return a.name == b.name && IsListed(a) == IsListed(b) && a.parties == b.parties &&
         AwaitedOf(a) == AwaitedOf(b);
}

bool SameIndexEntries(const Clutch& a, const Clutch& b) {
  return a.name == b.name && HasToShare(a) == HasToShare(b) && a.parties == b.parties &&
         a.offer == b.offer;
}

bool SameIndexEntries(const Lot& a, const Lot& b) {
  return (a.slings == 0) == (b.slings == 0) && a.owner == b.owner && a.holder == b.holder &&
         a.receiver == b.receiver && a.sender == b.sender && HasToReplace(a) == HasToReplace(b);
}

bool SameIndexEntries(const Clash& a, const Clash& b) {
  return a.state == b.state && a.parties == b.parties;
}

std::string UniqueNameOf(const Keeper& value) {
  return NamePrefix(Kind::kKeeper, value.name);
}
std::string UniqueNameOf(const Group& value) {
  return NamePrefix(Kind::kGroup, value.name);
}
std::string UniqueNameOf(const Form& value) {
  return NamePrefix(Kind::kForm, value.name);
}
std::string UniqueNameOf(const Animal& value) {
  return value.death.has_value() ? std::string() : OwnAnimalNamed(value.owner, value.name);
}

bool SameUniqueName(const Keeper& a, const Keeper& b) {
  return a.name == b.name;
}
bool SameUniqueName(const Group& a, const Group& b) {
  return a.name == b.name;
}
bool SameUniqueName(const Form& a, const Form& b) {
  return a.name == b.name;
}
bool SameUniqueName(const Animal& a, const Animal& b) {
  return a.owner == b.owner && a.name == b.name && a.death.has_value() == b.death.has_value();
}

std::string NamePrefix(Kind kind, std::string_view name) {
  std::string entry;
  entry.reserve(3 + name.size() + sizeof(IdBytes));
  entry.push_back(kByName);
  entry.push_back(static_cast<char>(kind));
  AppendFolded(entry, name);
  return entry;
}

std::string OwnAnimalNamed(const KeeperId& owner, std::string_view name) {
  return ByOwnerAndName(owner, kLiving, name);
}

std::string AnimalsOfGroup(const GroupId& group) {
  return Prefix(kByGroup, group.bytes);
}
std::string MatureMalesOfGroup(const GroupId& group) {
  return Prefix(kByGroup, group.bytes, kMatureMale);
}
std::string ImmatureMalesOfGroup(const GroupId& group) {
  return Prefix(kByGroup, group.bytes, kImmatureMale);
}
std::string EndedMalesOfGroup(const GroupId& group) {
  return Prefix(kByGroup, group.bytes, kEndedMale);
}
std::string FemalesOfGroup(const GroupId& group) {
  return Prefix(kByGroup, group.bytes, kLivingFemale);
}
std::string AnimalsOfOwner(const KeeperId& keeper) {
  return Prefix(kByOwner, keeper.bytes);
}
std::string AnimalsOfHolder(const KeeperId& keeper) {
  return Prefix(kByHolder, keeper.bytes);
}
std::string LoansOfParty(const KeeperId& keeper) {
  return Prefix(kLoansByParty, keeper.bytes);
}
std::string AmendmentsAwaiting(const KeeperId& keeper) {
  return Prefix(kAmendmentsByParty, keeper.bytes);
}
std::string LotsOfKeeper(const KeeperId& keeper) {
  return Prefix(kLotsByKeeper, keeper.bytes);
}
std::string ClashesOfParty(const KeeperId& keeper) {
  return Prefix(kClashesByParty, keeper.bytes);
}
std::string ClashesAbout(const IdBytes& subject) {
  return Prefix(kClashesBySubject, subject);
}
std::string ClutchesToShare(const KeeperId& keeper) {
  return Prefix(kClutchesByShare, keeper.bytes);
}
std::string AllClutchesToShare() {
  return std::string(1, kClutchesByShare);
}
std::string AnimalsOffered(const KeeperId& receiver) {
  return Prefix(kOffersByReceiver, receiver.bytes, static_cast<char>(Kind::kAnimal));
}
std::string ClutchesOffered(const KeeperId& receiver) {
  return Prefix(kOffersByReceiver, receiver.bytes, static_cast<char>(Kind::kClutch));
}

std::string StandingVetoes() {
  return std::string(1, kVetoes);
}
std::string WantsOfGroup(const GroupId& group) {
  return Prefix(kWantsByGroup, group.bytes);
}
std::string WantsOfKeeper(const KeeperId& keeper) {
  return Prefix(kWantsByKeeper, keeper.bytes);
}
std::string SealedNotesAbout(const IdBytes& subject) {
  return Prefix(kNotesBySubject, subject);
}
std::string SealedNotesFor(const KeeperId& keeper) {
  return Prefix(kNotesByReader, keeper.bytes);
}

std::optional<MaleLife> MaleLifeOf(std::string_view entry) {
  constexpr std::size_t kWhat = 1 + sizeof(IdBytes);
  constexpr std::size_t kDays = kWhat + 1;
  constexpr std::size_t kDayBytes = 4;
  if (entry.size() <= kWhat || entry.front() != kByGroup) return std::nullopt;
  const std::size_t days = entry[kWhat] == kMatureMale ? 2 : entry[kWhat] == kEndedMale ? 3 : 0;
  if (days == 0 || entry.size() != kDays + days * kDayBytes + sizeof(IdBytes)) return std::nullopt;
  MaleLife life{.maturity = DayAt(entry, kDays),
                .entry = DayAt(entry, kDays + (days - 1) * kDayBytes)};
  if (days == 3) life.death = DayAt(entry, kDays + kDayBytes);
  return life;
}

std::optional<Day> HatchingOf(std::string_view entry) {
  constexpr std::size_t kWhat = 1 + sizeof(IdBytes);
  if (entry.size() != kWhat + 1 + 4 + sizeof(IdBytes) || entry.front() != kByGroup ||
      entry[kWhat] != kImmatureMale) {
    return std::nullopt;
  }
  return DayAt(entry, kWhat + 1);
}

std::size_t NameBytesOf(std::string_view entry) {
  if (entry.empty() || (entry.front() != kByName && entry.front() != kByOwner)) return 0;
  const std::size_t name = entry.front() == kByName ? 2 : 2 + sizeof(IdBytes);
  const std::size_t end = entry.find('\0', name);
  return end == std::string_view::npos ? 0 : end + 1;
}

IdBytes IdOfEntry(std::string_view entry) {
  if (entry.size() < sizeof(IdBytes)) return {};
  return IdOfBytes(entry.substr(entry.size() - sizeof(IdBytes))).value_or(IdBytes{});
}

}  // namespace broodpact::registry
