#pragma once

// Index entries: byte strings that a subject answers to, so that a question costs what it returns.
//
// Every entry is one string: a letter for the index, what is asked for, and the subject's key at
// its end. Entries have no value. All are computed from the subject alone, so that the indexes can
// be rebuilt, and checked against a scan.
//
//   n <kind> <folded name> 0x00 <id>     by name: every subject with a short name, keepers too
//   g <group> e <maturity day, 4> <death day, 4> <entry day, 4> <id>
//                                        mature males of a group that have died
//   g <group> f <id>                     living females of a group
//   g <group> i <hatching day, 4> <id>   living males that are not mature, where it is known
//   g <group> m <maturity day, 4> <entry day, 4> <id>
//                                        living mature males of a group, oldest first
//   g <group> o <id>                     the other animals of a group
//   o <keeper> d <folded name> 0x00 <id> dead animals by owner and name
//   o <keeper> l <folded name> 0x00 <id> living animals by owner and name
//   h <keeper> <id>                      animals by holder, where not the owner
//   l <keeper> <id>                      loans by party, unless declined, superseded or closed
//   t <keeper> <id>                      lots with slings, by owner, holder and receiver; parcels
//                                        whose dead arrivals are not made good, by sender too
//   p <keeper> <id>                      clashes that are open, by party
//   c <subject> <id>                     clashes by what they are about, ended ones too
//   s <keeper> <id>                      clutches with slings or a sac to share, by who has a share
//   w <keeper> <kind> <id>               animals and clutches that wait to be accepted, by receiver
//   v <id>                               vetoes that stand
//   x <group> <id>                       wants that are open, by group
//   y <keeper> <id>                      wants that are open, by keeper
//   d <subject> <id>                     sealed notes that stand, by what they are about
//   r <keeper> o|r <id>                  sealed notes that stand: own ones, then those for it
//
// Folded name: ASCII letters in lower case, other bytes as they are. An animal has three entries,
// or four: what a first sync costs is largely how many entries it writes.

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "client/registry/encode.h"
#include "client/registry/subject.h"

namespace broodpact::registry {

// The entries of a subject, in order. Kinds without entries have an overload that returns none.
std::vector<std::string> IndexEntriesOf(const Cooperative& value);
std::vector<std::string> IndexEntriesOf(const Keeper& value);
std::vector<std::string> IndexEntriesOf(const Device& value);
std::vector<std::string> IndexEntriesOf(const Invite& value);
std::vector<std::string> IndexEntriesOf(const Group& value);
std::vector<std::string> IndexEntriesOf(const Animal& value);
std::vector<std::string> IndexEntriesOf(const Loan& value);
std::vector<std::string> IndexEntriesOf(const Pairing& value);
std::vector<std::string> IndexEntriesOf(const Clutch& value);
std::vector<std::string> IndexEntriesOf(const Lot& value);
std::vector<std::string> IndexEntriesOf(const Clash& value);
std::vector<std::string> IndexEntriesOf(const Frozen& value);
std::vector<std::string> IndexEntriesOf(const Veto& value);
std::vector<std::string> IndexEntriesOf(const Want& value);
std::vector<std::string> IndexEntriesOf(const Branch& value);
std::vector<std::string> IndexEntriesOf(const Stretch& value);
std::vector<std::string> IndexEntriesOf(const Form& value);
std::vector<std::string> IndexEntriesOf(const Carry& value);
std::vector<std::string> IndexEntriesOf(const Motion& value);
std::vector<std::string> IndexEntriesOf(const SealingKey& value);
std::vector<std::string> IndexEntriesOf(const SealedNote& value);

// Whether two values of one subject have the same entries: the same answer as comparing
// IndexEntriesOf, without writing them down.
template <typename Subject>
bool SameIndexEntries(const Subject& a, const Subject& b) {
  return IndexEntriesOf(a) == IndexEntriesOf(b);
}
bool SameIndexEntries(const Animal& a, const Animal& b);
bool SameIndexEntries(const Loan& a, const Loan& b);
bool SameIndexEntries(const Clutch& a, const Clutch& b);
bool SameIndexEntries(const Lot& a, const Lot& b);
bool SameIndexEntries(const Clash& a, const Clash& b);

// What must be free for a subject to be entered: the beginning of the index entry that no other
// subject may have. Empty: nothing. (Groups, keepers and forms by name; living animals by owner and
// name.)
template <typename Subject>
std::string UniqueNameOf(const Subject&) {
  return {};
}
std::string UniqueNameOf(const Keeper& value);
std::string UniqueNameOf(const Group& value);
std::string UniqueNameOf(const Form& value);
std::string UniqueNameOf(const Animal& value);

// Whether two values of one subject have the same unique name; cheaper than to compare the two.
template <typename Subject>
bool SameUniqueName(const Subject&, const Subject&) {
  return true;
}
bool SameUniqueName(const Keeper& a, const Keeper& b);
bool SameUniqueName(const Group& a, const Group& b);
bool SameUniqueName(const Form& a, const Form& b);
bool SameUniqueName(const Animal& a, const Animal& b);

// Beginnings of entries, to look up by. All entries that begin so are answers.
std::string NamePrefix(Kind kind, std::string_view name);  // exactly that name
std::string AnimalsOfGroup(const GroupId& group);          // living and dead
std::string MatureMalesOfGroup(const GroupId& group);
std::string ImmatureMalesOfGroup(const GroupId& group);
std::string EndedMalesOfGroup(const GroupId& group);
std::string FemalesOfGroup(const GroupId& group);
std::string AnimalsOfOwner(const KeeperId& keeper);                        // living and dead
std::string OwnAnimalNamed(const KeeperId& owner, std::string_view name);  // living
std::string AnimalsOfHolder(const KeeperId& keeper);
std::string LoansOfParty(const KeeperId& keeper);
std::string AmendmentsAwaiting(const KeeperId& keeper);  // loans with one that lacks its signature
std::string LotsOfKeeper(const KeeperId& keeper);
std::string ClashesOfParty(const KeeperId& keeper);
std::string ClashesAbout(const IdBytes& subject);
std::string ClutchesToShare(const KeeperId& keeper);
std::string AllClutchesToShare();  // one entry for each keeper of a share
std::string AnimalsOffered(const KeeperId& receiver);
std::string ClutchesOffered(const KeeperId& receiver);
std::string StandingVetoes();
std::string WantsOfGroup(const GroupId& group);
std::string WantsOfKeeper(const KeeperId& keeper);
std::string SealedNotesAbout(const IdBytes& subject);
std::string SealedNotesFor(const KeeperId& keeper);  // own ones first

// How long a mature male has lived, as far as the index knows: from an entry of MatureMalesOfGroup
// or EndedMalesOfGroup, without reading the animal. A day that is not known exactly is the middle
// of its span. Nothing for other entries.
struct MaleLife {
  Day maturity{};
  std::optional<Day> death{};
  Day entry{};  // when he was entered: those who died before it were never seen
};
std::optional<MaleLife> MaleLifeOf(std::string_view entry);

// The day of hatching in an entry of ImmatureMalesOfGroup, as above. Nothing for other entries.
std::optional<Day> HatchingOf(std::string_view entry);

// How many bytes of `entry`, an entry or the beginning of one, hold all that is asked for when a
// name is looked up exactly: everything before the id. 0 if it is no entry by name, or ends inside
// the name. A database can filter by it.
std::size_t NameBytesOf(std::string_view entry);

// The subject's 16 bytes at the end of an entry.
IdBytes IdOfEntry(std::string_view entry);

}  // namespace broodpact::registry
