#include "tests/simulation/hostile.h"

#include <limits>
#include <set>
#include <utility>

#include "client/base/check.h"
#include "client/device/key.h"
#include "client/facts/commit.h"
#include "client/registry/state.h"
#include "server/door.h"

namespace broodpact::simulation {
namespace {

facts::Statement Harmless(Dice& dice) {
  return facts::GroupEntry{.group = GroupId{{static_cast<std::uint8_t>(dice.Roll(256)),
                                             static_cast<std::uint8_t>(dice.Roll(256)), 7}},
                           .name = "thief " + std::to_string(dice.Next()),
                           .taxon = "Brachypelma hamorii"};
}

class Thief {
 public:
  Thief(KeeperNode& keeper, ServerNode& server, Dice& dice)
      : server_(server),
        dice_(dice),
        self_(keeper.replica().identity().keeper),
        cooperative_(server.log().cooperative()),
        key_(Loaded(keeper)),
        device_(DeviceOf(key_.public_key())),
        incarnation_(keeper.replica().identity().incarnation) {}

  HostileSending Send() {
    HostileSending sending{.what = {}, .caller = device_, .requests = {Hello()}};
    facts::CommitHeader header = FreshChain();
    switch (dice_.Roll(14)) {
      case 0:
        sending.what = "garbage";
        sending.requests.push_back(Push(std::string(1 + dice_.Roll(200), '\x7F'), Signature{}));
        break;
      case 1: {
        sending.what = "a bad signature";
        const std::string bytes = facts::BuildCommit(header, {Harmless(dice_)});
        Signature signature = facts::SignCommit(key_, Sha256(bytes));
        auto& byte = signature[dice_.Roll(signature.size())];
        byte = static_cast<std::uint8_t>(byte ^ 1U);
        sending.requests.push_back(Push(bytes, signature));
        break;
      }
      case 2:
        sending.what = "a hole in a chain";
        header.seq = 2 + dice_.Roll(5);
        header.prev = Sha256("what was never sent");
        sending.requests.push_back(Signed(header));
        break;
      case 3:
        sending.what = "a commit of another device";
        header.device = DeviceId{{1, 2, 3}};
        sending.requests.push_back(Signed(header));
        break;
      case 4:
        sending.what = "a commit that is too long";
        sending.requests.push_back(Push(std::string(facts::kCommitBytesMax + 1, '\0'), {}));
        break;
      case 5:
        sending.what = "a commit of another cooperative";
        header.cooperative = Sha256("another one");
        sending.requests.push_back(Signed(header));
        break;
      case 6:
        sending.what = "a stranger's hello";
        sending.caller = DeviceId{{9, 9, 9}};
        break;
      case 7:
        sending.what = "a push without a hello";
        sending.requests = {Signed(header)};
        break;
      case 8:
        sending.what = "an empty push";
        sending.requests.emplace_back().mutable_push();
        break;
      case 9:
        sending.what = "a hello from the future";
        sending.requests.front().mutable_hello()->set_arrivals(1'000'000'000'000);
        sending.requests.front().mutable_hello()->set_log_hash(std::string(32, 'x'));
        break;
      case 10:
        return Rewrite(std::move(sending));
      case 11:
        sending.what = "a commit at the next place of the owner's chain";
        sending.refused = false;
        sending.requests.push_back(Signed(NextPlace()));
        break;
      case 12:
        return GiveWhatIsNotHis(std::move(sending), header);
      default:
        sending.what = "a commit that has seen what never was";
        header.seen = {.arrivals = dice_.Once(2) ? 1 : std::uint64_t{1} << 62U, .log_hash = {1}};
        sending.requests.push_back(Signed(header));
        break;
    }
    return sending;
  }

 private:
  static device::SecretKey Loaded(KeeperNode& keeper) {
    absl::StatusOr<device::SecretKey> key =
        device::SecretKey::Load(keeper.replica().home().key_file());
    BP_CHECK(key.ok());
    return *std::move(key);
  }

  v1::SyncRequest Hello() const {
    v1::SyncRequest request;
    request.mutable_hello()->set_cooperative_id(std::string(ViewOf(cooperative_)));
    request.mutable_hello()->set_incarnation(incarnation_);
    return request;
  }

  static v1::SyncRequest Push(const std::string& bytes, const Signature& signature) {
    v1::SyncRequest request;
    request.mutable_push()->add_commits(bytes);
    request.mutable_push()->set_signature(std::string(ViewOf(signature)));
    return request;
  }

  // The beginning of a chain that nobody has: a far incarnation, now and then the last there is.
  facts::CommitHeader FreshChain() {
    return {.cooperative = cooperative_,
            .device = device_,
            .incarnation = dice_.Once(4) ? std::numeric_limits<std::uint32_t>::max()
                                         : 1'000 + dice_.Roll(1'000'000),
            .seq = 1,
            .prev = {},
            .seen = {},
            .clock_ms = 0};
  }

  facts::CommitHeader NextPlace() const {
    const auto head = server_.store().HeadOf({.device = device_, .incarnation = incarnation_});
    BP_CHECK(head.ok());
    return {.cooperative = cooperative_,
            .device = device_,
            .incarnation = incarnation_,
            .seq = head->seq + 1,
            .prev = head->hash,
            .seen = {},
            .clock_ms = 0};
  }

  v1::SyncRequest Signed(const facts::CommitHeader& header) {
    const std::string bytes = facts::BuildCommit(header, {Harmless(dice_)});
    return Push(bytes, facts::SignCommit(key_, Sha256(bytes)));
  }

  HostileSending Rewrite(HostileSending sending) {
    facts::CommitHeader header = NextPlace();
    sending.what = "another commit at a place that is taken";
    if (header.seq == 1) {
      sending.what = "nothing";
      sending.requests.clear();
      sending.refused = false;
      return sending;
    }
    header.seq -= 1;
    header.prev = header.seq == 1 ? Hash{} : Sha256("before it");
    sending.requests.push_back(Signed(header));
    return sending;
  }

  // With the right tokens, but in the name of one who owns nothing of it.
  HostileSending GiveWhatIsNotHis(HostileSending sending, const facts::CommitHeader& header) {
    sending.what = "a gift of what is not his";
    sending.refused = false;
    const auto animals = server_.store().SubjectsOfKind(registry::Kind::kAnimal, std::nullopt, 256);
    BP_CHECK(animals.ok());
    for (const registry::StoredSubject& stored : *animals) {
      const auto animal = registry::Decode<registry::Animal>(stored.value);
      if (!animal || animal->owner == self_) continue;
      const std::string bytes =
          facts::BuildCommit(header, {facts::Gift{.animal = animal->id,
                                                  .receiver = self_,
                                                  .owner_token = animal->owner_token,
                                                  .holder_token = animal->holder_token}});
      sending.without_effect = Sha256(bytes);
      sending.requests.push_back(Push(bytes, facts::SignCommit(key_, Sha256(bytes))));
      break;
    }
    return sending;
  }

  ServerNode& server_;
  Dice& dice_;
  const KeeperId self_;
  const Hash cooperative_;
  const device::SecretKey key_;
  const DeviceId device_;
  const std::uint32_t incarnation_;
};

}  // namespace

HostileSending HostileSendingOf(KeeperNode& keeper, ServerNode& server, Dice& dice) {
  return Thief(keeper, server, dice).Send();
}

server::Run RunOfStranger(const Hash& cooperative, Dice& dice) {
  const Hash seed = Sha256("stranger" + std::to_string(dice.Next()));
  const device::SecretKey key = device::SecretKey::OfSeed(ViewOf(seed));
  const DeviceId device = DeviceOf(key.public_key());
  const std::string bytes = facts::BuildCommit({.cooperative = cooperative,
                                                .device = device,
                                                .incarnation = 1,
                                                .seq = 1,
                                                .prev = {},
                                                .seen = {},
                                                .clock_ms = 0},
                                               {Harmless(dice)});
  const Signature signature = facts::SignCommit(key, Sha256(bytes));
  auto run =
      server::CheckRun({bytes}, ViewOf(signature),
                       {.cooperative = cooperative, .device = device, .key = key.public_key()});
  BP_CHECK(run.ok());
  return *std::move(run);
}

bool IsAmong(const HostileSending& sending, const store::Store& log, std::uint64_t before) {
  std::set<std::string> sent;
  for (const v1::SyncRequest& request : sending.requests) {
    sent.insert(request.push().commits().begin(), request.push().commits().end());
  }
  bool found = false;
  log.VisitArrivals(before + 1, log.point().arrivals,
                    [&](std::uint64_t /*arrival*/, const store::StoredArrival& stored) {
                      found = found || sent.contains(stored.bytes);
                      return absl::OkStatus();
                    })
      .IgnoreError();  // a log that cannot be read is told of elsewhere
  return found;
}

}  // namespace broodpact::simulation
