#include "tests/simulation/server_node.h"

#include <utility>

#include <fmt/format.h>

#include "client/base/check.h"
#include "client/base/status.h"
#include "client/registry/state.h"
#include "client/sync/key_list.h"
#include "server/door.h"
#include "server/epochs.h"
#include "server/inviting.h"

namespace broodpact::simulation {
namespace {

device::SecretKey LogKeyOf(int number) {
  return device::SecretKey::OfSeed(std::string(32, static_cast<char>('r' + number)));
}

}  // namespace

ServerNode::ServerNode(std::filesystem::path folder, const std::int64_t& world_ms)
    : machine_(std::move(folder), world_ms),
      events_(nowhere_, server::Level::kError, machine_.clock()),
      log_key_(LogKeyOf(number_)) {}

ServerNode::~ServerNode() {
  for (const std::shared_ptr<Wire>& wire : wires_) wire->LoseServer();
}

absl::Status ServerNode::Start() {
  BP_ASSIGN_OR_RETURN(store_,
                      store::Store::Open(machine_.folder() / "database", store::Access::kReadWrite,
                                         &machine_.disk().disk()));
  callers_.emplace(*store_, machine_.clock());
  BP_ASSIGN_OR_RETURN(log_, server::ArrivalLog::Start({.store = *store_,
                                                       .log_key = log_key_,
                                                       .clock = machine_.clock(),
                                                       .log = events_,
                                                       .pace = server::Pace::kByHand}));
  return absl::OkStatus();
}

std::string ServerNode::address() const {
  return fmt::format("brood{}.example:7443", number_);
}

void ServerNode::BecomeAnother() {
  BP_CHECK(!runs());
  std::filesystem::remove_all(machine_.folder());
  std::filesystem::create_directories(machine_.folder());
  log_key_ = LogKeyOf(++number_);
}

void ServerNode::Crash(Ending ending, Dice& dice) {
  machine_.disk().Die();
  for (const std::shared_ptr<Wire>& wire : wires_) wire->LoseServer();
  wires_.clear();
  log_.reset();
  callers_.reset();
  store_.reset();
  machine_.Revive(ending, dice);
}

server::SyncService::Surroundings ServerNode::Around() {
  return {.store = *store_,
          .arrival_log = *log_,
          .callers = *callers_,
          .clock = machine_.clock(),
          .log = events_,
          .allowance = allowance_};
}

std::shared_ptr<Wire> ServerNode::Connect(const DeviceId& caller) {
  std::erase_if(wires_, [](const auto& wire) { return wire->over(); });
  wires_.push_back(std::make_shared<Wire>(caller, told_));
  wires_.back()->Accept(Around());
  return wires_.back();
}

void ServerNode::Submit(server::Run run, Entrance entrance, const std::shared_ptr<Entry>& entry) {
  log_->Submit({.run = std::move(run),
                .meta = {},
                .founds = entrance == Entrance::kFounds,
                .answer = [entry](const absl::StatusOr<server::Receipt>& answer) {
                  entry->answer = answer;
                }});
}

absl::Status ServerNode::SubmitFounding(const facts::SignedCommit& founding,
                                        const std::shared_ptr<Entry>& entry) {
  BP_ASSIGN_OR_RETURN(
      server::Run run,
      server::CheckFounding(founding.bytes, std::string(ViewOf(founding.signature))));
  Submit(std::move(run), Entrance::kFounds, entry);
  return absl::OkStatus();
}

absl::Status ServerNode::SubmitJoining(const Hash& cooperative, const facts::SignedCommit& joining,
                                       const std::shared_ptr<Entry>& entry) {
  BP_ASSIGN_OR_RETURN(
      server::Run run,
      server::CheckJoining(joining.bytes, std::string(ViewOf(joining.signature)), cooperative));
  BP_RETURN_IF_ERROR(callers_->CheckEnters(run));
  Submit(std::move(run), Entrance::kJoins, entry);
  return absl::OkStatus();
}

absl::StatusOr<sync::Head> ServerNode::Succeed(const DeviceId& caller,
                                               const sync::Takeover& takeover) {
  BP_RETURN_IF_ERROR(
      log_->Succeed(takeover.cooperative, takeover.predecessor,
                    {{std::string(server::kLeftServersName), sync::EncodeKeys(takeover.left)}}));
  BP_RETURN_IF_ERROR(callers_->MemberOrForgotten(caller).status());
  return log_->herald().head();
}

absl::Status ServerNode::SubmitInviting(const sync::Reentry& reentry,
                                        const std::shared_ptr<Entry>& entry) {
  BP_ASSIGN_OR_RETURN(
      const server::Run joining,
      server::CheckJoining(reentry.joining.bytes, std::string(ViewOf(reentry.joining.signature)),
                           reentry.cooperative));
  v1::Push inviting;
  inviting.mutable_commits()->Assign(reentry.inviting.commits.begin(),
                                     reentry.inviting.commits.end());
  inviting.set_signature(std::string(ViewOf(reentry.inviting.signature)));
  BP_ASSIGN_OR_RETURN(server::Run run, server::CheckInviting(*callers_, inviting, joining));
  Submit(std::move(run), Entrance::kJoins, entry);
  return absl::OkStatus();
}

absl::Status ServerNode::Recover(const DeviceId& caller,
                                 const std::function<absl::Status(const server::Recovery&)>& call) {
  if (!admits_losses) return absl::UnimplementedError("no such service");
  BP_RETURN_IF_ERROR(callers_->MemberOrForgotten(caller).status());
  const server::Recovery recovery({.store = *store_,
                                   .arrival_log = *log_,
                                   .callers = *callers_,
                                   .log = events_,
                                   .allowance = allowance_,
                                   .log_key = log_key_.public_key()});
  return call(recovery);
}

bool ServerNode::Work() {
  return log_->Work();
}

}  // namespace broodpact::simulation
