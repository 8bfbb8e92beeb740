// LeaseTaking, LeaseRelease, and what a standing lease keeps others from.

#include <algorithm>
#include <vector>

#include "fmt/core.h"

#include "client/base/day.h"
#include "client/registry/internal/devices.h"
#include "client/registry/internal/leases.h"

namespace broodpact::registry {
namespace {

bool Stands(Case& c, const Lease& lease) {
  if (DayOfMillis(c.entry.time_ms) > lease.until) return false;
  return Known<Device>(c, ActingFor(c, lease.device)).state == DeviceState::kActive;
}

bool IsWriters(Case& c, const Lease& lease) {
  return ActingFor(c, lease.device) == WriterOf(c);
}

const Lease* StandingLease(Case& c, const std::vector<Lease>& leases, LeaseKind kind) {
  const auto found = std::find_if(leases.begin(), leases.end(), [&](const Lease& lease) {
    return lease.kind == kind && Stands(c, lease);
  });
  return found == leases.end() ? nullptr : &*found;
}

Finding LeaseStands(Case& c, const Lease& lease, std::string_view what,
                    std::string_view statement) {
  return Superseded(
      "LEASE_STANDS",
      fmt::format(
          "the {} of {} came while lease {} of {}, by another device, stood until {}; state "
          "it there, or when the lease has ended",
          statement, what, ToShortText(lease.id), NameOf(c, lease.keeper), ToText(lease.until)),
      lease.entry.arrival);
}

// The slings of a lot that others than the writer have leased, and the last of those leases.
struct LeasedOut {
  std::uint64_t slings = 0;
  const Lease* last = nullptr;
};
LeasedOut LeasedToOthers(Case& c, const Lot& lot) {
  LeasedOut out;
  for (const Lease& lease : lot.leases) {
    if (!Stands(c, lease) || IsWriters(c, lease)) continue;
    out.slings += lease.slings;
    out.last = &lease;
  }
  return out;
}

Finding CheckDays(Case& c, const Day& until) {
  const Day today = DayOfMillis(c.entry.time_ms);
  if (until < today) {
    return Superseded("LEASE_EXPIRED", "the lease had ended before it arrived; take it again", 0);
  }
  if (until.number - today.number <= kLeaseDaysMax) return std::nullopt;
  return Refused("LEASE_TOO_LONG",
                 fmt::format("a lease stands for {} days at most", kLeaseDaysMax));
}

// One token of an animal.
struct Leased {
  LeaseKind kind = LeaseKind::kOwnership;
  const KeeperId& keeper;
  const Token& token;
  std::uint64_t arrival = 0;
  std::string_view not_reason;
};

Finding CheckToken(Case& c, const Animal& animal, const Token& named, const Leased& leased) {
  if (named.empty()) return std::nullopt;
  if (leased.keeper != c.author()) {
    return Void(leased.not_reason,
                fmt::format("{} is {}'s, not yours", NameOf(animal), NameOf(c, leased.keeper)));
  }
  if (named != leased.token) {
    return Superseded(
        "TOKEN_SPENT",
        fmt::format("{} changed hands before; look at it and take the lease again", NameOf(animal)),
        leased.arrival);
  }
  return CheckLease(c, animal, leased.kind, "lease");
}

// Drops the leases that ended, and the writer's own of this kind, which the new one replaces.
void Prune(Case& c, std::vector<Lease>& leases, LeaseKind kind) {
  std::erase_if(leases, [&](const Lease& lease) {
    return !Stands(c, lease) || (lease.kind == kind && IsWriters(c, lease));
  });
}

Lease LeaseOf(const Case& c, const facts::LeaseTaking& s, LeaseKind kind) {
  return {.id = s.lease,
          .kind = kind,
          .device = WriterOf(c),
          .keeper = c.author(),
          .slings = s.slings,
          .until = s.until,
          .entry = c.entry};
}

Finding LeaseAnimal(Case& c, const facts::LeaseTaking& s) {
  const Animal* animal = c.state.Find<Animal>(s.animal);
  if (animal == nullptr) return UnknownSubject("animal", s.animal.bytes);
  if (Finding f = CheckToken(c, *animal, s.owner_token,
                             {.kind = LeaseKind::kOwnership,
                              .keeper = animal->owner,
                              .token = animal->owner_token,
                              .arrival = animal->owner_arrival,
                              .not_reason = "NOT_OWNER"})) {
    return f;
  }
  if (Finding f = CheckToken(c, *animal, s.holder_token,
                             {.kind = LeaseKind::kHolding,
                              .keeper = animal->holder,
                              .token = animal->holder_token,
                              .arrival = animal->holder_arrival,
                              .not_reason = "NOT_HOLDER"})) {
    return f;
  }
  if (Finding f = CheckDays(c, s.until)) return f;
  Animal& leased = c.state.Edit<Animal>(s.animal);
  if (!s.owner_token.empty()) {
    Prune(c, leased.leases, LeaseKind::kOwnership);
    leased.leases.push_back(LeaseOf(c, s, LeaseKind::kOwnership));
  }
  if (!s.holder_token.empty()) {
    Prune(c, leased.leases, LeaseKind::kHolding);
    leased.leases.push_back(LeaseOf(c, s, LeaseKind::kHolding));
  }
  return std::nullopt;
}

Finding LeaseLot(Case& c, const facts::LeaseTaking& s) {
  const Lot* lot = c.state.Find<Lot>(s.lot);
  if (lot == nullptr) return UnknownSubject("lot", s.lot.bytes);
  if (!ActsFor(c, lot->owner)) {
    return Void("NOT_OWNER",
                fmt::format("{} is owned by {}, not by you", NameOf(*lot), NameOf(c, lot->owner)));
  }
  if (Finding f = CheckSettled(c, *lot)) return f;
  if (Finding f = CheckSlings(*lot, s.slings)) return f;
  if (Finding f = CheckSlingsFree(c, *lot, s.slings)) return f;
  if (Finding f = CheckDays(c, s.until)) return f;
  Lot& leased = c.state.Edit<Lot>(s.lot);
  Prune(c, leased.leases, LeaseKind::kSlings);
  if (leased.leases.size() >= kLeasesMax) {
    return Refused("TOO_MANY_RECORDS", fmt::format("{} has {} leases already, and no room for more",
                                                   NameOf(leased), leased.leases.size()));
  }
  leased.leases.push_back(LeaseOf(c, s, LeaseKind::kSlings));
  return std::nullopt;
}

template <typename Subject, typename AnyId>
Finding Release(Case& c, const AnyId& id, const LeaseId& released, std::string_view what) {
  const Subject* subject = c.state.Find<Subject>(id);
  if (subject == nullptr) return UnknownSubject(what, id.bytes);
  const auto is_it = [&](const Lease& lease) { return lease.id == released; };
  const auto lease = std::find_if(subject->leases.begin(), subject->leases.end(), is_it);
  if (lease == subject->leases.end()) return UnknownSubject("lease", released.bytes);
  const bool orphaned = lease->keeper == c.author() && !Stands(c, *lease);
  if (!IsWriters(c, *lease) && !orphaned) {
    return Void("NOT_YOUR_LEASE",
                fmt::format("the lease is of another device of {}", NameOf(c, lease->keeper)));
  }
  std::erase_if(c.state.Edit<Subject>(id).leases, is_it);
  return std::nullopt;
}

}  // namespace

Finding CheckLease(Case& c, const Animal& animal, LeaseKind kind, std::string_view statement) {
  const Lease* lease = StandingLease(c, animal.leases, kind);
  if (lease == nullptr || IsWriters(c, *lease)) return std::nullopt;
  return LeaseStands(c, *lease, NameOf(animal), statement);
}

Finding CheckSaidUnderLease(Case& c, const Animal& animal, std::uint64_t said,
                            std::string_view statement) {
  const Lease* lease = StandingLease(c, animal.leases, LeaseKind::kOwnership);
  if (lease == nullptr) return std::nullopt;
  // What is provisional comes after all that arrived.
  const bool before = said != 0 && (lease->entry.arrival == 0 || said < lease->entry.arrival);
  if (!before) return std::nullopt;
  return LeaseStands(c, *lease, NameOf(animal), statement);
}

Finding CheckSlingsFree(Case& c, const Lot& lot, std::uint32_t slings) {
  const LeasedOut out = LeasedToOthers(c, lot);
  if (out.last == nullptr || out.slings + slings <= lot.slings) return std::nullopt;
  return LeaseStands(c, *out.last, fmt::format("{} slings of {}", slings, NameOf(lot)), "use");
}

void SpendLease(Case& c, Lot& lot, std::uint32_t slings) {
  for (Lease& lease : lot.leases) {
    if (!IsWriters(c, lease)) continue;
    const std::uint32_t spent = std::min(slings, lease.slings);
    lease.slings -= spent;
    slings -= spent;
  }
  std::erase_if(lot.leases, [](const Lease& lease) { return lease.slings == 0; });
}

void EndLeases(Animal& animal, LeaseKind kind) {
  std::erase_if(animal.leases, [kind](const Lease& lease) { return lease.kind == kind; });
}

Finding Apply(Case& c, const facts::LeaseTaking& s) {
  return s.animal.empty() ? LeaseLot(c, s) : LeaseAnimal(c, s);
}

Finding Apply(Case& c, const facts::LeaseRelease& s) {
  return s.animal.empty() ? Release<Lot>(c, s.lot, s.lease, "lot")
                          : Release<Animal>(c, s.animal, s.lease, "animal");
}

}  // namespace broodpact::registry
