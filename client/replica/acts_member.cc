#include "client/replica/acts_member.h"

#include <algorithm>
#include <vector>

#include "client/replica/internal/motions.h"

namespace broodpact::replica {
namespace {

// Where a chain ends as far as it has arrived: the newest life that has a commit.
absl::StatusOr<facts::ChainId> NewestChain(const store::Store& database, const DeviceId& device) {
  BP_ASSIGN_OR_RETURN(const std::vector<facts::ChainId> chains, database.ChainsOf(device));
  facts::ChainId newest{.device = device, .incarnation = 1};
  for (const facts::ChainId& chain : chains) {
    newest.incarnation = std::max(newest.incarnation, chain.incarnation);
  }
  return newest;
}

struct Place {
  std::uint32_t incarnation = 0;
  facts::ChainHead head;

  friend bool operator==(const Place&, const Place&) = default;
};

std::string CutText(const Place& cut) {
  return fmt::format("commit {} of life {}", cut.head.seq, cut.incarnation);
}

// How many commits of a device's newest life have arrived behind a cut.
std::uint64_t ArrivedAfter(const Place& cut, const Place& last) {
  const bool is_before = cut.incarnation == last.incarnation && cut.head.seq < last.head.seq;
  return is_before ? last.head.seq - cut.head.seq : 0;
}

absl::StatusOr<Place> LastArrived(const store::Store& database, const DeviceId& device) {
  BP_ASSIGN_OR_RETURN(const facts::ChainId newest, NewestChain(database, device));
  BP_ASSIGN_OR_RETURN(const facts::ChainHead head, database.HeadOf(newest));
  if (head.seq > 0) return Place{.incarnation = newest.incarnation, .head = head};
  return Fail(absl::StatusCode::kFailedPrecondition, "CUT_OTHER",
              "nothing of the device has arrived here; sync first");
}

absl::StatusOr<Place> PlaceAt(const store::Store& database, const DeviceId& device,
                              std::uint64_t arrival) {
  const auto other = [&] {
    return Fail(
        absl::StatusCode::kInvalidArgument, "CUT_OTHER",
        fmt::format("arrival {} is no commit of that device; `broodpact log` shows them", arrival));
  };
  if (arrival == 0 || arrival > database.point().arrivals) return other();
  BP_ASSIGN_OR_RETURN(const store::StoredArrival stored, database.ReadArrival(arrival));
  BP_ASSIGN_OR_RETURN(const facts::Commit commit, facts::ParseCommit(stored.bytes));
  if (commit.header.device != device) return other();
  return Place{.incarnation = commit.header.incarnation, .head = facts::HeadAfter(commit)};
}

// What is carried of the device and follows on the cut.
void AwaitCarried(const Replica& replica, const DeviceId& device, Place& cut,
                  std::vector<Hash>& awaited) {
  for (const Replica::Undelivered& one : replica.undelivered()) {
    const facts::CommitHeader& header = one.commit.header;
    const bool follows = header.device == device && header.incarnation == cut.incarnation &&
                         header.seq == cut.head.seq + 1 && header.prev == cut.head.hash;
    if (!follows || awaited.size() >= facts::kAwaitedMax) continue;
    cut.head = facts::HeadAfter(one.commit);
    awaited.push_back(cut.head.hash);
  }
}

// Whether it takes others too to take a role from a keeper, or to give it. What is about oneself
// one states alone: under a motion about oneself one's signature would be void.
bool IsUpToOthers(const Replica& replica, const registry::Keeper& about, facts::Role role) {
  if (about.id == replica.identity().keeper) return false;
  return about.role == facts::Role::kRegistrar || role == facts::Role::kRegistrar;
}

absl::StatusOr<std::vector<registry::Motion>> OpenMotions(const Replica& replica) {
  BP_ASSIGN_OR_RETURN(std::vector<registry::Motion> motions, MotionsOf(replica.view()));
  std::erase_if(motions, [](const registry::Motion& motion) {
    return motion.state != registry::MotionState::kOpen;
  });
  return motions;
}

// Those about a device; none where it is cut off without one.
absl::StatusOr<std::vector<registry::Motion>> OpenMotionsAbout(const Replica& replica,
                                                               const registry::Device& device) {
  std::vector<registry::Motion> about;
  if (device.state != registry::DeviceState::kActive) return about;
  BP_ASSIGN_OR_RETURN(const auto keeper, Known<registry::Keeper>(replica, device.keeper, "keeper"));
  if (!IsUpToOthers(replica, keeper, keeper.role)) return about;
  BP_ASSIGN_OR_RETURN(about, OpenMotions(replica));
  std::erase_if(about, [&](const registry::Motion& motion) {
    return motion.what != registry::MotionMatter::kRevocation || motion.device != device.id;
  });
  return about;
}

Place CutOf(const registry::Motion& motion) {
  return {.incarnation = motion.cut.incarnation,
          .head = {.seq = motion.cut.seq, .hash = motion.cut.hash}};
}

// The one of some motions to sign: a signature is for the motion's cut, so where another one is
// asked for there is none. Without either option any cut will do.
absl::StatusOr<registry::Motion> MotionToSign(const std::vector<registry::Motion>& motions,
                                              const CutDraft& draft, const Place& cut) {
  const bool any = !draft.last_arrival && !draft.with_carried;
  for (const registry::Motion& motion : motions) {
    if (any || CutOf(motion) == cut) return motion;
  }
  const registry::Motion& open = motions.front();
  return Fail(absl::StatusCode::kFailedPrecondition, "CUT_OTHER",
              fmt::format("motion {} asks already to revoke that device, and the last of it that "
                          "would count is {}; `broodpact motion sign {}` signs it as it is",
                          ToShortText(open.id), CutText(CutOf(open)), ToShortText(open.id)));
}

// Whether this device has a lease: it took it, or it is the key that goes on for who did.
absl::StatusOr<bool> HasLease(const Replica& replica, const registry::Lease& lease) {
  const DeviceId own = DeviceOf(replica.device_key());
  DeviceId holder = lease.device;
  for (std::size_t i = 0; i < registry::kDevicesMax && holder != own; ++i) {
    BP_ASSIGN_OR_RETURN(const auto device, Known<registry::Device>(replica, holder, "device"));
    if (device.state != registry::DeviceState::kReplaced) return false;
    holder = device.successor;
  }
  return holder == own;
}

template <typename Subject>
absl::StatusOr<Acted> Release(Replica& replica, const Subject& subject,
                              const facts::LeaseRelease& of) {
  std::vector<facts::Statement> statements;
  for (const registry::Lease& lease : subject.leases) {
    BP_ASSIGN_OR_RETURN(const bool own, HasLease(replica, lease));
    facts::LeaseRelease release = of;
    release.lease = lease.id;
    // Ownership and holding of an animal are leased as one.
    const bool named = std::ranges::find(statements, facts::Statement(release)) != statements.end();
    if (own && !named) statements.emplace_back(release);
  }
  if (!statements.empty()) return replica.Act(statements);
  return Fail(absl::StatusCode::kNotFound, "NO_LEASE",
              "this device has no lease on it; show it to see who has");
}

}  // namespace

absl::StatusOr<Revoked> RevokeDevice(Replica& replica, const CutDraft& draft) {
  BP_ASSIGN_OR_RETURN(const auto device, Known<registry::Device>(replica, draft.device, "device"));
  const store::Store& database = replica.store();
  BP_ASSIGN_OR_RETURN(const Place last, LastArrived(database, draft.device));
  Place cut = last;
  if (draft.last_arrival) {
    BP_ASSIGN_OR_RETURN(cut, PlaceAt(database, draft.device, *draft.last_arrival));
  }
  Revoked revoked;
  revoked.arrived_after = ArrivedAfter(cut, last);
  facts::Revocation revocation{.device = draft.device, .reason = draft.reason};
  if (draft.with_carried) AwaitCarried(replica, draft.device, cut, revocation.awaited);
  revocation.incarnation = cut.incarnation;
  revocation.seq = cut.head.seq;
  revocation.hash = cut.head.hash;
  BP_ASSIGN_OR_RETURN(const auto motions, OpenMotionsAbout(replica, device));
  if (motions.empty()) {
    BP_ASSIGN_OR_RETURN(revoked.acted, replica.Act({revocation}));
  } else {
    BP_ASSIGN_OR_RETURN(const registry::Motion motion, MotionToSign(motions, draft, cut));
    cut = CutOf(motion);
    revoked.arrived_after = ArrivedAfter(cut, last);
    revoked.signed_motion = motion.id;
    BP_ASSIGN_OR_RETURN(revoked.acted, SignMotion(replica, motion.id));
  }
  revoked.cut = CutText(cut);
  BP_ASSIGN_OR_RETURN(const auto after, Known<registry::Device>(replica, draft.device, "device"));
  revoked.state = after.state;
  return revoked;
}

absl::StatusOr<Acted> ChangeRole(Replica& replica, const KeeperId& keeper, facts::Role role,
                                 const std::string& reason) {
  const facts::RoleChange change{.keeper = keeper, .role = role, .reason = reason};
  BP_ASSIGN_OR_RETURN(const auto known, Known<registry::Keeper>(replica, keeper, "keeper"));
  if (!IsUpToOthers(replica, known, role)) return replica.Act({change});
  BP_ASSIGN_OR_RETURN(const auto motions, OpenMotions(replica));
  const auto same = std::ranges::find_if(motions, [&](const registry::Motion& motion) {
    return motion.what == registry::MotionMatter::kRole && motion.keeper == keeper &&
           motion.role == role;
  });
  return same == motions.end() ? replica.Act({change}) : SignMotion(replica, same->id);
}

absl::StatusOr<Acted> SignMotion(Replica& replica, const MotionId& motion) {
  return replica.Act({facts::MotionSignature{.motion = motion}});
}

absl::StatusOr<Acted> Leave(Replica& replica, const std::string& reason) {
  return replica.Act({facts::Leaving{.reason = reason}});
}

absl::StatusOr<Made<LeaseId>> LeaseAnimal(Replica& replica, const AnimalId& id, Day until) {
  BP_ASSIGN_OR_RETURN(const auto animal, Known<registry::Animal>(replica, id, "animal"));
  const KeeperId self = replica.identity().keeper;
  facts::LeaseTaking lease{
      .lease = device::FreshId<LeaseId>(replica.randomness()), .animal = id, .until = until};
  if (animal.owner == self || animal.holder != self) lease.owner_token = animal.owner_token;
  if (animal.holder == self) lease.holder_token = animal.holder_token;
  const LeaseId lease_id = lease.lease;
  return ActMaking(replica, lease_id, lease);
}

absl::StatusOr<Made<LeaseId>> LeaseSlings(Replica& replica, const LotId& lot, std::uint32_t slings,
                                          Day until) {
  const facts::LeaseTaking lease{.lease = device::FreshId<LeaseId>(replica.randomness()),
                                 .lot = lot,
                                 .slings = slings,
                                 .until = until};
  return ActMaking(replica, lease.lease, lease);
}

absl::StatusOr<Acted> ReleaseAnimal(Replica& replica, const AnimalId& id) {
  BP_ASSIGN_OR_RETURN(const auto animal, Known<registry::Animal>(replica, id, "animal"));
  return Release(replica, animal, {.animal = id});
}

absl::StatusOr<Acted> ReleaseLot(Replica& replica, const LotId& id) {
  BP_ASSIGN_OR_RETURN(const auto lot, Known<registry::Lot>(replica, id, "lot"));
  return Release(replica, lot, {.lot = id});
}

}  // namespace broodpact::replica
