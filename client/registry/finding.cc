#include <algorithm>
#include <utility>

#include "fmt/core.h"

#include "client/registry/internal/devices.h"

namespace broodpact::registry {
namespace {

template <typename Subject>
std::string NameOrId(const Subject& subject, std::string_view what) {
  if (!subject.name.empty()) return subject.name;
  return fmt::format("{} {}", what, ToShortText(subject.id));
}

// Whom a keeper has named itself acts from then on; whom a registrar has, only while it is gone.
bool IsFollowed(Case& c, const Keeper& keeper) {
  return keeper.succession.keeper == keeper.id || keeper.has_left || !HasDevice(c, keeper);
}

}  // namespace

Finding Refused(std::string_view reason, std::string message) {
  return Verdict{
      .kind = VerdictKind::kRefused, .reason = std::string(reason), .message = std::move(message)};
}

Finding Void(std::string_view reason, std::string message) {
  return Verdict{
      .kind = VerdictKind::kVoid, .reason = std::string(reason), .message = std::move(message)};
}

Finding Superseded(std::string_view reason, std::string message, std::uint64_t winner_arrival) {
  return Verdict{.kind = VerdictKind::kSuperseded,
                 .reason = std::string(reason),
                 .message = std::move(message),
                 .winner_arrival = winner_arrival};
}

void Flag(Case& c, std::string_view reason, std::string message) {
  if (!c.counted.reason.empty()) return;
  c.counted.reason = reason;
  c.counted.message = std::move(message);
}

void FlagFuture(Case& c, const DaySpan& day) {
  const Day arrival = DayOfMillis(c.entry.time_ms);
  if (day.earliest.number <= arrival.number + 1) return;
  Flag(c, "FLAG_FUTURE_DAY",
       fmt::format("{} lies after {}, when this came in; enter it again if the date is wrong",
                   ToText(day), ToText(arrival)));
}

Finding CheckRoom(std::size_t records, std::string_view what) {
  if (records < kRecordsMax) return std::nullopt;
  return Refused("TOO_MANY_RECORDS",
                 fmt::format("there are {} {} already, and no room for more", records, what));
}

Finding CheckShareOfRoom(std::size_t own, std::size_t records, std::string_view what) {
  const bool leaves_room = own < kRecordsMax / 4 || records < kRecordsMax / 2;
  if (leaves_room && records < kRecordsMax / 4 * 3) return std::nullopt;
  return Refused("TOO_MANY_RECORDS",
                 fmt::format("there are {} {} already, {} of them yours, and no room for more",
                             records, what, own));
}

Finding CheckRoomOf(Case& c, const Animal& animal, std::size_t records, std::string_view what) {
  if (Keeps(animal, c.author()) || records < kRecordsMax / 4) return CheckRoom(records, what);
  return Refused("TOO_MANY_RECORDS",
                 fmt::format("{} has {} {} already; {}, who owns it, has to enter more of them",
                             NameOf(animal), records, what, NameOf(c, animal.owner)));
}

Finding UnknownSubject(std::string_view what, const IdBytes& id) {
  return Refused("UNKNOWN_SUBJECT",
                 fmt::format("there is no {} {}; it may not have arrived yet, or did not count",
                             what, IdText(id).substr(0, kIdShortSize)));
}

Finding IdTaken(std::string_view what, const IdBytes& id) {
  return Refused("ID_TAKEN", fmt::format("the id {} belongs to another {}; enter it again",
                                         IdText(id).substr(0, kIdShortSize), what));
}

std::string NameOf(Case& c, const KeeperId& keeper) {
  const Keeper* found = c.state.Find<Keeper>(keeper);
  return found != nullptr ? found->name : fmt::format("keeper {}", ToShortText(keeper));
}

std::string NameOf(Case& c, const AnimalId& animal) {
  const Animal* found = c.state.Find<Animal>(animal);
  return found != nullptr ? found->name : fmt::format("animal {}", ToShortText(animal));
}

std::string NameOf(const Animal& animal) {
  return animal.name;
}
std::string NameOf(const Loan& loan) {
  return NameOrId(loan, "loan");
}
std::string NameOf(const Clutch& clutch) {
  return NameOrId(clutch, "clutch");
}
std::string NameOf(const Lot& lot) {
  return fmt::format("lot {}", ToShortText(lot.id));
}

bool IsKeeper(Case& c, const KeeperId& keeper) {
  return c.state.Find<Keeper>(keeper) != nullptr;
}

bool Keeps(const Animal& animal, const KeeperId& keeper) {
  return animal.owner == keeper || animal.holder == keeper;
}

bool ActsFor(Case& c, const KeeperId& keeper) {
  KeeperId acting = keeper;
  for (int i = 0; i <= kSuccessionsMax && !acting.empty(); ++i) {
    if (acting == c.author()) return true;
    const Keeper* found = c.state.Find<Keeper>(acting);
    const bool is_followed = found != nullptr && !found->successor.empty() && IsFollowed(c, *found);
    acting = is_followed ? found->successor : KeeperId{};
  }
  return false;
}

bool ActsForParty(Case& c, const Clutch& clutch) {
  return std::any_of(clutch.parties.begin(), clutch.parties.end(), [&](const PartyShare& share) {
    return ActsFor(c, share.party) || ActsFor(c, share.receiver);
  });
}

Finding CheckKeepsClutch(Case& c, const ClutchId& id) {
  const Clutch* clutch = c.state.Find<Clutch>(id);
  if (clutch == nullptr) return UnknownSubject("clutch", id.bytes);
  if (ActsFor(c, clutch->owner) || ActsFor(c, clutch->holder)) return std::nullopt;
  return Void("NOT_YOUR_CLUTCH",
              fmt::format("{} is owned by {} and held by {}; one of them has to state this",
                          NameOf(*clutch), NameOf(c, clutch->owner), NameOf(c, clutch->holder)));
}

std::vector<KeeperId> ConcernedBy(const Clutch& clutch) {
  std::vector<KeeperId> keepers;
  for (const PartyShare& share : clutch.parties) {
    keepers.push_back(share.party);
    keepers.push_back(share.receiver);
  }
  keepers.push_back(clutch.owner);
  keepers.push_back(clutch.holder);
  return keepers;
}

Finding CheckKeeps(Case& c, const Animal& animal) {
  if (Keeps(animal, c.author())) return std::nullopt;
  return Void("NOT_YOUR_ANIMAL",
              fmt::format("{} is owned by {} and held by {}; one of them has to state this",
                          NameOf(animal), NameOf(c, animal.owner), NameOf(c, animal.holder)));
}

}  // namespace broodpact::registry
