#include "tests/simulation/keeper_node.h"

#include <utility>

#include "client/base/check.h"
#include "client/base/status.h"

namespace broodpact::simulation {

KeeperNode::KeeperNode(std::string name, std::filesystem::path folder, ServerNode& server,
                       const std::int64_t& world_ms, std::uint64_t seed)
    : name_(std::move(name)),
      seed_(seed),
      machine_(std::move(folder), world_ms),
      network_(*this, server),
      randomness_(seed) {}

KeeperNode::~KeeperNode() {
  machine_.disk().Die();
  if (wire != nullptr) wire->Break();
  calls = false;
  while (turn_ != nullptr) GoOn();
}

absl::Status KeeperNode::Start() {
  const replica::Home home(machine_.folder());
  const device::SecretKey key =
      device::SecretKey::OfSeed(ViewOf(Sha256({name_, ":", std::to_string(seed_)})));
  BP_RETURN_IF_ERROR(key.Save(home.key_file()));
  return replica::Replica::Start(home, name_, "", Parts());
}

replica::Surroundings KeeperNode::Parts() {
  return {machine_.clock(), randomness_, network_, &machine_.disk().disk()};
}

absl::Status KeeperNode::Open() {
  if (replica_ != nullptr) return absl::OkStatus();
  BP_ASSIGN_OR_RETURN(replica_, replica::Replica::Open(replica::Home(machine_.folder()),
                                                       store::Access::kReadWrite, Parts()));
  return absl::OkStatus();
}

absl::Status KeeperNode::ReopenToSync() {
  Close();
  BP_ASSIGN_OR_RETURN(replica_,
                      replica::Replica::OpenToSync(replica::Home(machine_.folder()), Parts()));
  return absl::OkStatus();
}

void KeeperNode::Close() {
  BP_CHECK(turn_ == nullptr);
  replica_.reset();
}

void KeeperNode::Begin(std::function<absl::Status()> call) {
  BP_CHECK(turn_ == nullptr && replica_ != nullptr);
  stop = std::stop_source();
  gives_up = false;
  turn_ = std::make_unique<Turn>([this, call = std::move(call)] { result_ = call(); });
}

std::optional<absl::Status> KeeperNode::GoOn() {
  turn_->GoOn();
  if (!turn_->ended()) return std::nullopt;
  turn_.reset();
  follows = false;
  return result_;
}

bool KeeperNode::CanGoOn() const {
  if (turn_ == nullptr) return false;
  if (calls) return false;
  if (entry != nullptr) return entry->answer.has_value() || gives_up;
  return wire == nullptr || wire->HasArrived() || stop.stop_requested();
}

void KeeperNode::Crash(Ending ending, Dice& dice) {
  machine_.disk().Die();
  if (wire != nullptr) wire->Break();
  calls = false;
  while (turn_ != nullptr) GoOn();
  replica_.reset();
  machine_.Revive(ending, dice);
}

}  // namespace broodpact::simulation
