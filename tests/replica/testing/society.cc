#include "tests/replica/testing/society.h"

#include "client/base/status.h"
#include "client/facts/arrival.h"
#include "tests/replica/testing/demand.h"

namespace broodpact::testing {
void Society::Start(const std::string& keeper, const std::string& region) {
  Demand(replica::Replica::Start(HomeOf(keeper), keeper, region, surroundings()));
  keepers_.push_back(keeper);
}

void Society::Found(const std::string& keeper, const std::string& region) {
  Start(keeper, region);
  Demand(At(keeper).Found("show-room").status());
  Deliver();
}

template <typename InvitationOf, typename JoiningOf>
void Society::EnterBy(const std::string& inviter, const std::string& newcomer,
                      InvitationOf invitation, JoiningOf joining) {
  const device::SecretKey invite = device::SecretKey::OfSeed(randomness_.Bytes(32));
  replica::Replica& host = At(inviter);
  Demand(host.Act({invitation(invite.public_key())}).status());
  const Hash cooperative = host.cooperative();
  Push(inviter);

  const replica::Home home = HomeOf(newcomer);
  const auto identity = Demand(home.ReadIdentity());
  const auto key = Demand(device::SecretKey::Load(home.key_file()));
  const facts::ChainId chain{DeviceOf(key.public_key()), identity.incarnation};
  facts::CommitHeader header;
  header.cooperative = cooperative;
  header.device = chain.device;
  header.clock_ms = clock_.NowMillis();
  const std::string bytes = facts::BuildCommit(header, {joining(invite, cooperative, identity)});
  {
    const auto database = Demand(store::Store::Open(home.database(), store::Access::kReadWrite));
    Demand(database->AppendPending(
        {{.chain = chain,
          .seq = 1,
          .commit = {.bytes = bytes, .signature = facts::SignCommit(key, Sha256(bytes))}}}));
  }
  Deliver();
}

void Society::Enter(const std::string& keeper, const std::string& region, facts::Role role) {
  Start(keeper, region);
  EnterBy(
      keepers_.front(), keeper,
      [&](const PublicKey& invite) {
        return facts::Invitation{.invite_key = invite, .role = role, .keeper_name = keeper};
      },
      [](const device::SecretKey& invite, const Hash& cooperative,
         const replica::Identity& identity) {
        return facts::Joining{.invite_key = invite.public_key(),
                              .keeper = identity.keeper,
                              .keeper_name = identity.keeper_name,
                              .device_key = identity.device_key,
                              .invite_signature = invite.Sign(facts::JoiningMessage(
                                  cooperative, identity.keeper, identity.device_key)),
                              .region = identity.region};
      });
}

void Society::EnterDevice(const std::string& device, const std::string& keeper) {
  Start(device);
  const KeeperId id = IdOf(keeper);
  EnterBy(
      keeper, device,
      [&](const PublicKey& invite) {
        return facts::DeviceInvitation{.invite_key = invite, .keeper = id, .label = device};
      },
      [&](const device::SecretKey& invite, const Hash& cooperative,
          const replica::Identity& identity) {
        return facts::DeviceJoining{.invite_key = invite.public_key(),
                                    .keeper = id,
                                    .device_key = identity.device_key,
                                    .invite_signature = invite.Sign(facts::JoiningMessage(
                                        cooperative, id, identity.device_key))};
      });
  Close(device);  // opened again, it knows whose it is
}

replica::Replica& Society::At(const std::string& keeper) {
  std::unique_ptr<replica::Replica>& replica = open_[keeper];
  if (!replica) {
    replica =
        Demand(replica::Replica::Open(HomeOf(keeper), store::Access::kReadWrite, surroundings()));
  }
  return *replica;
}

replica::View Society::ViewOf(const std::string& keeper) {
  replica::Replica& replica = At(keeper);
  return {replica.view(), replica.identity().keeper, &replica.view()};
}

KeeperId Society::IdOf(const std::string& keeper) {
  return Demand(HomeOf(keeper).ReadIdentity()).keeper;
}

void Society::Push(const std::string& keeper) {
  for (const replica::Replica::Undelivered& one : At(keeper).undelivered()) {
    facts::ChainHead& pushed = pushed_[facts::ChainOf(one.commit.header)];
    // What has arrived before, or is the other branch of a fork, has no place.
    if (!facts::CheckFollows(pushed, one.commit).ok()) continue;
    pushed = facts::HeadAfter(one.commit);
    facts::AppendArrival(log_.emplace_back(), {.commit = one.signed_commit.bytes,
                                               .time_ms = clock_.NowMillis(),
                                               .signature = one.signed_commit.signature});
  }
}

void Society::Pull(const std::string& keeper) {
  const auto identity = At(keeper).identity();
  Close(keeper);
  {
    const auto database =
        Demand(store::Store::Open(HomeOf(keeper).database(), store::Access::kReadWrite));
    replica::Ledger ledger(*database);
    facts::Range range{.before = database->point(), .after = database->point()};
    for (std::size_t i = range.before.arrivals; i < log_.size(); ++i) {
      Demand(facts::ReadOnto(range, log_[i]));
    }
    if (!range.empty()) {
      Demand(ledger
                 .Append(range, facts::ChainId{DeviceOf(identity.device_key), identity.incarnation},
                         store::Durability::kWritten)
                 .status());
    }
  }
}

void Society::Deliver() {
  for (const std::string& keeper : keepers_) Push(keeper);
  for (const std::string& keeper : keepers_) {
    if (At(keeper).cooperative() != Hash{}) Pull(keeper);
  }
}

GroupId AddGroup(Society& society, const std::string& keeper, const std::string& name,
                 const std::string& taxon) {
  const auto id = device::FreshId<GroupId>(society.randomness());
  Demand(society.At(keeper)
             .Act({facts::GroupEntry{.group = id, .name = name, .taxon = taxon}})
             .status());
  return id;
}

AnimalId AddAnimal(Society& society, const std::string& keeper, facts::AnimalEntry entry) {
  entry.animal = device::FreshId<AnimalId>(society.randomness());
  Demand(society.At(keeper).Act({entry}).status());
  return entry.animal;
}

}  // namespace broodpact::testing
