#include "tests/simulation/invariants.h"

#include <algorithm>
#include <map>
#include <set>
#include <utility>

#include <fmt/format.h>

#include "client/base/merkle_proof.h"
#include "client/base/status.h"
#include "client/facts/commit.h"
#include "client/registry/encode.h"
#include "client/registry/fold.h"
#include "client/registry/state.h"
#include "client/replica/acts_animal.h"
#include "client/replica/acts_group.h"
#include "client/store/state_digest.h"

namespace broodpact::simulation {
namespace {

// The keepers who have joined, can open their replicas and are not cut off: those who cannot open
// them are told of by Liveness.
std::vector<KeeperNode*> Members(World& world) {
  std::vector<KeeperNode*> members;
  for (std::size_t i = 0; i < world.keepers().size(); ++i) {
    KeeperNode& keeper = *world.keepers()[i];
    if (!world.joined(i) || keeper.busy() || !keeper.Open().ok()) continue;
    if (!world.IsOut(keeper)) members.push_back(&keeper);
  }
  return members;
}

std::vector<facts::Arrived> LogOf(const store::Store& store) {
  std::vector<facts::Arrived> log;
  store
      .VisitArrivals(1, store.point().arrivals,
                     [&](std::uint64_t arrival, const store::StoredArrival& stored) {
                       auto commit = facts::ParseCommit(stored.bytes);
                       if (!commit.ok()) return commit.status();
                       log.push_back({.commit = *std::move(commit),
                                      .arrival = arrival,
                                      .time_ms = stored.time_ms,
                                      .first_time_ms = stored.first_time_ms});
                       return absl::OkStatus();
                     })
      .IgnoreError();  // what is missing shows in the digest
  return log;
}

// The digest of a fold from scratch, in memory and without a store.
Hash DigestOfFold(const std::vector<facts::Arrived>& log) {
  registry::State state(registry::EmptySource());
  for (const facts::Arrived& arrived : log) registry::Fold(state, arrived);
  store::StateHasher hasher;
  for (const registry::Change& change : state.TakeChanges()) {
    hasher.Add(registry::KeyText(change.key), change.value);
  }
  return hasher.Finish();
}

template <typename Subject>
std::vector<Subject> All(const store::Store& store) {
  std::vector<Subject> all;
  const auto stored = store.SubjectsOfKind(Subject::kKind, std::nullopt, 4'096);
  if (!stored.ok()) return all;
  for (const registry::StoredSubject& one : *stored) {
    auto decoded = registry::Decode<Subject>(one.value);
    if (decoded) all.push_back(*std::move(decoded));
  }
  return all;
}

// The commit whose effect another one has: what it states again or adopts, or itself.
const facts::Commit& EffectOf(const facts::Commit& commit) {
  const facts::Statement& first = commit.statements.front();
  if (const auto* again = std::get_if<facts::Restatement>(&first)) return *again->told;
  if (const auto* adoption = std::get_if<facts::Adoption>(&first)) return *adoption->told;
  return commit;
}

// The replica by which the state is judged: a keeper's, as that is what people see.
const store::Store* AnyStore(World& world) {
  const std::vector<KeeperNode*> members = Members(world);
  return members.empty() ? nullptr : &members.back()->replica().store();
}

}  // namespace

Violations Convergence(World& world) {
  Violations found;
  const store::Store& server = world.server().store();
  const absl::StatusOr<Hash> digest = server.StateDigest();
  if (!digest.ok()) return {TextOf(digest.status())};
  for (KeeperNode* keeper : Members(world)) {
    const store::Store& store = keeper->replica().store();
    if (store.point() != server.point()) continue;  // told by Liveness
    const absl::StatusOr<Hash> other = store.StateDigest();
    if (!other.ok() || *other != *digest) {
      found.push_back(
          fmt::format("{} and the server have equal logs of {} arrivals and different "
                      "states",
                      keeper->name(), server.point().arrivals));
    }
  }
  std::vector<facts::Arrived> log = LogOf(server);
  if (world.planted() == Planted::kFoldSwapped) {
    const std::size_t place = log.size() / 2;
    std::swap(log[place].commit, log[place + 1].commit);
  }
  if (DigestOfFold(log) != *digest) {
    found.push_back("the server's state is not the fold of its log from scratch");
  }
  return found;
}

Violations DaysKept(World& world) {
  Violations found;
  for (const std::string& complaint : world.witness().complaints()) {
    if (complaint.starts_with("days: ")) found.push_back(complaint.substr(6));
  }
  return found;
}

Violations Finality(World& world) {
  for (KeeperNode* keeper : Members(world)) {
    world.witness().NoteVerdicts(keeper->name(), keeper->replica().store());
  }
  world.witness().NoteVerdicts("the server", world.server().store());
  Violations found;
  for (const std::string& complaint : world.witness().complaints()) {
    if (complaint.starts_with("finality: ")) found.push_back(complaint.substr(10));
  }
  return found;
}

Violations NothingLost(World& world) {
  Violations found;
  const store::Store& server = world.server().store();
  const std::set<Hash> arrived = CommitsIn(server);
  for (const auto& [hash, kept] : world.witness().kept()) {
    // What a device says after it was cut off stays in its own replica, until somebody adopts it.
    if (!arrived.contains(hash) && !world.IsOut(kept.device)) {
      found.push_back(fmt::format("{} was kept, and is nowhere", kept.what));
    }
  }
  const std::vector<v1::SignedHead>& told = world.server().told();
  for (std::size_t i = world.witness().heads_forgotten(); i < told.size(); ++i) {
    const v1::SignedHead& head = told[i];
    const absl::StatusOr<Hash> hash = server.LogHashAt(head.arrivals());
    if (head.arrivals() == 0 || (hash.ok() && ViewOf(*hash) == head.log_hash())) continue;
    found.push_back(fmt::format(
        "the server acknowledged a log of {} arrivals that it does not have", head.arrivals()));
    break;
  }
  return found;
}

Violations Conservation(World& world) {
  const store::Store* store = AnyStore(world);
  if (store == nullptr) return {};
  std::map<ClutchId, std::uint64_t> in_lots;
  for (const registry::Lot& lot : All<registry::Lot>(*store)) in_lots[lot.clutch] += lot.slings;
  Violations found;
  for (const registry::Clutch& clutch : All<registry::Clutch>(*store)) {
    const registry::Accounts& accounts = clutch.accounts;
    const std::int64_t sum = std::int64_t{accounts.undivided} + accounts.in_lots + accounts.dead +
                             accounts.raised + accounts.unaccounted;
    if (sum != accounts.hatched) {
      found.push_back(fmt::format("clutch {}: {} hatched, and its accounts sum to {}",
                                  ToShortText(clutch.id), accounts.hatched, sum));
    }
    if (in_lots[clutch.id] != accounts.in_lots) {
      found.push_back(fmt::format("clutch {}: {} slings in lots, and its lots have {}",
                                  ToShortText(clutch.id), accounts.in_lots, in_lots[clutch.id]));
    }
    if (accounts.raised != clutch.raised.size()) {
      found.push_back(fmt::format("clutch {}: {} were raised, and it names {}",
                                  ToShortText(clutch.id), accounts.raised, clutch.raised.size()));
    }
  }
  return found;
}

Violations OneOwnerOneHolder(World& world) {
  const store::Store* store = AnyStore(world);
  if (store == nullptr) return {};
  Violations found;
  std::map<AnimalId, std::vector<LoanId>> in_force;
  for (const registry::Loan& loan : All<registry::Loan>(*store)) {
    if (loan.state == registry::LoanState::kInForce) in_force[loan.animal].push_back(loan.id);
  }
  for (const registry::Animal& animal : All<registry::Animal>(*store)) {
    const auto once = [&](const std::vector<registry::CustodyRecord>& past, const Token& present,
                          std::string_view what) {
      std::set<Token> tokens = {present};
      for (const registry::CustodyRecord& record : past) {
        if (tokens.insert(record.token).second) continue;
        found.push_back(fmt::format("animal {}: one {} was spent twice", animal.name, what));
      }
    };
    once(animal.past_owners, animal.owner_token, "ownership");
    once(animal.past_holders, animal.holder_token, "holding");
    const std::vector<LoanId>& loans = in_force[animal.id];
    if (loans.size() > 1) {
      found.push_back(fmt::format("animal {} is promised to {} loans", animal.name, loans.size()));
    }
    if (!loans.empty() && animal.loan != loans.front()) {
      found.push_back(fmt::format("animal {} does not know of its loan in force", animal.name));
    }
  }
  return found;
}

Violations NoEffectWithoutAuthority(World& world) {
  Violations found;
  const store::Store& server = world.server().store();
  std::set<DeviceId> devices;
  for (const registry::Device& device : All<registry::Device>(server)) devices.insert(device.id);
  std::set<DeviceId> cut_off;
  server
      .VisitArrivals(
          1, server.folded(),
          [&](std::uint64_t arrival, const store::StoredArrival& stored) {
            const auto commit = facts::ParseCommit(stored.bytes);
            if (!commit.ok()) return absl::OkStatus();
            const bool counted = stored.verdict.kind == registry::VerdictKind::kCounted;
            if (counted && world.witness().hostile().contains(commit->hash)) {
              found.push_back(fmt::format("arrival {} counts without authority", arrival));
            }
            if (counted && !devices.contains(commit->header.device)) {
              found.push_back(fmt::format("arrival {} of a stranger counts", arrival));
            }
            if (counted && cut_off.contains(commit->header.device)) {
              found.push_back(
                  fmt::format("arrival {} of a device that is cut off counts", arrival));
            }
            for (const facts::Statement& statement : commit->statements) {
              const auto* revocation = std::get_if<facts::Revocation>(&statement);
              if (counted && revocation != nullptr) cut_off.insert(revocation->device);
            }
            return absl::OkStatus();
          })
      .IgnoreError();  // a log that cannot be read is told of elsewhere
  for (const std::string& complaint : world.witness().complaints()) {
    if (complaint.starts_with("authority: ")) found.push_back(complaint.substr(11));
  }
  return found;
}

Violations CountsOnce(World& world) {
  Violations found;
  std::map<Hash, std::uint64_t> counted;
  const auto note = [&](const Hash& hash, std::uint64_t arrival) {
    const auto [first, fresh] = counted.emplace(hash, arrival);
    if (fresh) return;
    found.push_back(fmt::format("arrivals {} and {} both count, and are one commit: {}",
                                first->second, arrival, ToHex(hash)));
  };
  const store::Store& server = world.server().store();
  server
      .VisitArrivals(1, server.folded(),
                     [&](std::uint64_t arrival, const store::StoredArrival& stored) {
                       const auto commit = facts::ParseCommit(stored.bytes);
                       const bool counts = stored.verdict.kind == registry::VerdictKind::kCounted;
                       if (commit.ok() && counts) note(EffectOf(*commit).hash, arrival);
                       return absl::OkStatus();
                     })
      .IgnoreError();  // a log that cannot be read is told of elsewhere
  const bool plant = world.planted() == Planted::kCountedTwice && !counted.empty();
  if (plant) note(counted.begin()->first, server.folded() + 1);
  return found;
}

Violations AgreementBinds(World& world) {
  const store::Store& server = world.server().store();
  std::map<DeviceId, KeeperId> keepers;
  for (const registry::Device& device : All<registry::Device>(server)) {
    keepers[device.id] = device.keeper;
  }
  // By the log alone, whatever the state says: who signed which bytes.
  std::map<std::pair<LoanId, Hash>, std::set<KeeperId>> signers;
  server
      .VisitArrivals(
          1, server.folded(),
          [&](std::uint64_t, const store::StoredArrival& stored) {
            const auto read = facts::ParseCommit(stored.bytes);
            if (!read.ok()) return absl::OkStatus();
            const facts::Commit* commit = &*read;
            if (const auto* again = std::get_if<facts::Restatement>(&commit->statements.front())) {
              commit = again->told.get();
            }
            const KeeperId keeper = keepers[commit->header.device];
            for (const facts::Statement& statement : commit->statements) {
              if (const auto* s = std::get_if<facts::LoanProposal>(&statement)) {
                signers[{s->parsed.loan, s->agreement_digest}].insert(keeper);
              } else if (const auto* a = std::get_if<facts::LoanAmendment>(&statement)) {
                signers[{a->parsed.loan, a->agreement_digest}].insert(keeper);
              } else if (const auto* l = std::get_if<facts::LoanSignature>(&statement)) {
                signers[{l->loan, l->agreement_digest}].insert(keeper);
              }
            }
            return absl::OkStatus();
          })
      .IgnoreError();  // a log that cannot be read is told of elsewhere
  Violations found;
  for (const registry::Loan& loan : All<registry::Loan>(server)) {
    if (loan.in_force_arrival == 0) continue;
    for (const KeeperId& party : loan.parties) {
      if (signers[{loan.id, loan.agreement_digest}].contains(party)) continue;
      found.push_back(fmt::format("loan {} binds keeper {}, who never signed it",
                                  ToShortText(loan.id), ToShortText(party)));
    }
  }
  return found;
}

Violations Determinism(World& world) {
  const std::vector<KeeperNode*> members = Members(world);
  if (members.empty()) return {};
  KeeperNode& keeper = *members[world.dice().Roll(members.size())];
  const auto before = keeper.replica().store().StateDigest();
  const auto verified = keeper.replica().Rebuild();
  if (!verified.ok()) return {TextOf(verified.status())};
  Violations found = verified->faults;
  if (!before.ok() || verified->state_digest != *before) {
    found.push_back(fmt::format("{} rebuilt the replica and has another state", keeper.name()));
  }
  return found;
}

Violations HonestServer(World& world) {
  Violations found;
  const store::Store& server = world.server().store();
  for (KeeperNode* keeper : Members(world)) {
    const auto doubts = keeper->replica().Doubts();
    if (!doubts.ok()) found.push_back(TextOf(doubts.status()));
    if (doubts.ok() && !doubts->empty()) {
      found.push_back(
          fmt::format("{} doubts the server: {}", keeper->name(), doubts->front().message));
    }
    // One of an earlier epoch holds up to what the log of today has in common with it.
    const auto head = keeper->replica().LastHead();
    if (head.ok() && *head && sync::IsVoid(world.server().log().epochs(), **head)) continue;
    if (!head.ok() || !*head || (*head)->point.arrivals == 0) continue;
    const auto root = server.TreeRootAt((*head)->point.arrivals);
    const auto own = keeper->replica().store().TreeRootAt((*head)->point.arrivals);
    if (!root.ok() || !own.ok() || *root != (*head)->tree_root || *own != *root) {
      found.push_back(fmt::format("the head of {} has another root", keeper->name()));
    }
  }
  const std::uint64_t size = server.point().arrivals;
  if (size < 2) return found;
  const std::uint64_t first = 1 + world.dice().Roll(size - 1);
  const auto proof = ConsistencyProof(*server.TreeNodes(), first, size);
  const auto first_root = server.TreeRootAt(first);
  const auto root = server.TreeRootAt(size);
  if (!proof.ok() || !first_root.ok() || !root.ok() ||
      !VerifyConsistency({.size = first, .root = *first_root}, {.size = size, .root = *root},
                         *proof)
           .ok()) {
    found.push_back(fmt::format("growth from {} to {} arrivals is not proved", first, size));
  }
  return found;
}

Violations Indexes(World& world) {
  Violations found;
  for (KeeperNode* keeper : Members(world)) {
    const auto faults = keeper->replica().store().CheckDisk();
    if (!faults.ok()) found.push_back(TextOf(faults.status()));
    if (faults.ok()) found.insert(found.end(), faults->begin(), faults->end());
  }
  const auto faults = world.server().store().CheckDisk();
  if (!faults.ok()) found.push_back(TextOf(faults.status()));
  if (faults.ok()) found.insert(found.end(), faults->begin(), faults->end());
  return found;
}

Violations ForkNeverWedges(World& world) {
  Violations found;
  std::vector<std::pair<std::string, Hash>> said;
  for (KeeperNode* keeper : Members(world)) {
    const auto acted = replica::EnterGroup(
        keeper->replica(), {.name = "after all: " + keeper->name(), .taxon = "Grammostola rosea"});
    if (!acted.ok()) {
      found.push_back(
          fmt::format("{} cannot write on: {}", keeper->name(), TextOf(acted.status())));
      continue;
    }
    said.emplace_back(keeper->name(), acted->acted.commit);
    world.witness().NoteKept(keeper->name(), keeper->replica());
    world.SyncOnce(*keeper);
  }
  const std::set<Hash> arrived = CommitsIn(world.server().store());
  for (const auto& [name, hash] : said) {
    if (!arrived.contains(hash)) found.push_back(fmt::format("{} writes, and it stays away", name));
  }
  return found;
}

Violations Liveness(World& world) {
  Violations found;
  for (std::size_t i = 0; i < world.keepers().size(); ++i) {
    KeeperNode& keeper = *world.keepers()[i];
    if (!world.joined(i)) continue;
    if (const absl::Status opened = keeper.Open(); !opened.ok()) {
      found.push_back(fmt::format("{} cannot open the replica: {}", keeper.name(), TextOf(opened)));
      continue;
    }
    if (world.IsOut(keeper)) continue;
    const facts::LogPoint point = keeper.replica().store().point();
    if (point != world.server().store().point()) {
      found.push_back(fmt::format("{} is at {} arrivals, the server at {}", keeper.name(),
                                  point.arrivals, world.server().store().point().arrivals));
    }
    const auto left = std::ranges::count_if(keeper.replica().undelivered(), [&](const auto& one) {
      return !world.IsOut(one.commit.header.device);
    });
    if (left > 0) {
      found.push_back(fmt::format("{} has {} undelivered commits left", keeper.name(), left));
    }
  }
  for (const std::string& complaint : world.witness().complaints()) {
    const bool elsewhere = complaint.starts_with("finality: ") ||
                           complaint.starts_with("authority: ") || complaint.starts_with("days: ");
    if (!elsewhere) found.push_back(complaint);
  }
  return found;
}

const std::vector<Invariant>& AllInvariants() {
  static const std::vector<Invariant> kAll = {
      {"Liveness", Liveness},
      {"Convergence", Convergence},
      {"Finality", Finality},
      {"DaysKept", DaysKept},
      {"NothingLost", NothingLost},
      {"Conservation", Conservation},
      {"OneOwnerOneHolder", OneOwnerOneHolder},
      {"NoEffectWithoutAuthority", NoEffectWithoutAuthority},
      {"CountsOnce", CountsOnce},
      {"AgreementBinds", AgreementBinds},
      {"HonestServer", HonestServer},
      {"Indexes", Indexes},
      {"Determinism", Determinism},
      {"ForkNeverWedges", ForkNeverWedges},
  };
  return kAll;
}

}  // namespace broodpact::simulation
