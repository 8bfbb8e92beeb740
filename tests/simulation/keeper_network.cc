#include "tests/simulation/keeper_network.h"

#include <utility>
#include <vector>

#include <fmt/format.h>

#include "client/base/check.h"
#include "client/base/merkle_proof.h"
#include "client/base/status.h"
#include "client/facts/arrival.h"
#include "client/sync/chunk.h"
#include "client/sync/exchange.h"
#include "server/door.h"
#include "tests/simulation/keeper_node.h"

namespace broodpact::simulation {
namespace {

absl::Status AwayError() {
  return Fail(absl::StatusCode::kUnavailable, "SERVER_AWAY",
              "the server does not answer; what was recorded is kept, sync again");
}

// No TLS here: the certificates are words that look like ones.
constexpr char kPem[] = "-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n";

// When a commit first arrived that has no place now.
struct DueTime {
  facts::ChainId chain;
  std::uint64_t seq = 0;
  Hash commit{};
  std::int64_t first_ms = 0;
};

// Of a part that is to arrive again, what has no place yet, as far as the replica's head reaches.
std::vector<DueTime> DueTimes(const replica::Replica& replica, const store::Store& there,
                              const v1::LogChunk& part) {
  const auto head = replica.LastHead();
  if (!head.ok() || !*head) return {};
  const std::uint64_t last = (*head)->point.arrivals;
  const auto root = replica.store().TreeRootAt(last);
  const auto records = sync::UnpackRecords(part.records_zstd());
  if (!root.ok() || *root != (*head)->tree_root || !records.ok()) return {};
  std::vector<DueTime> due;
  facts::ArrivalReader reader(*records);
  for (std::uint64_t at = part.arrivals_before() + 1; at <= last && !reader.at_end(); ++at) {
    const auto arrival = reader.Next();
    const auto commit = facts::ParseCommit(arrival->commit);
    // No rule counts from the day of a joining, and whoever moves enters by it, perhaps in this
    // very moment, before he delivers anything.
    if (server::EnteringIn(*commit)) continue;
    const facts::ChainId chain = facts::ChainOf(commit->header);
    const auto placed = there.ArrivalOf(chain, commit->header.seq);
    if (!placed.ok() || placed->has_value()) continue;
    // What was only carried comes by the same call, and has never arrived.
    const auto stood = replica.store().ReadArrival(at);
    if (!stood.ok() || stood->bytes != arrival->commit) continue;
    due.push_back({.chain = chain,
                   .seq = commit->header.seq,
                   .commit = commit->hash,
                   .first_ms = facts::FirstTimeOf(*arrival)});
  }
  return due;
}

// Whether the server's log has it, with days that count from later on.
bool CountsLater(const store::Store& server, const DueTime& due) {
  const auto placed = server.ArrivalOf(due.chain, due.seq);
  if (!placed.ok() || !placed->has_value()) return false;
  const auto stored = server.ReadArrival(**placed);
  return stored.ok() && Sha256(stored->bytes) == due.commit &&
         facts::FirstTimeOf(*stored) > due.first_ms;
}

}  // namespace

// The calls of RecoveryService, one after the other; between two of them anything may happen.
class SimulatedWay final : public sync::RecoveryWay {
 public:
  SimulatedWay(KeeperNode& keeper, KeeperNetwork& network, ServerNode& server, std::string address)
      : keeper_(keeper), network_(network), server_(server), address_(std::move(address)) {}

  absl::Status Compare(const v1::CompareRequest& request, v1::CompareResponse& response) override {
    return Call(&server::Recovery::Compare, request, response);
  }
  absl::Status ReportLoss(const v1::ReportLossRequest& request,
                          v1::ReportLossResponse& response) override {
    BP_RETURN_IF_ERROR(network_.AwaitCall(address_));
    const DeviceId caller = DeviceOf(keeper_.replica().device_key());
    return server_.Recover(caller, [&](const server::Recovery& recovery) {
      return recovery.ReportLoss(caller, request, response);
    });
  }
  absl::Status GiveBack(const v1::GiveBackRequest& request,
                        v1::GiveBackResponse& response) override {
    return Call(&server::Recovery::GiveBack, request, response);
  }
  absl::Status DeliverAgain(const v1::DeliverAgainRequest& request,
                            v1::DeliverAgainResponse& response) override {
    BP_RETURN_IF_ERROR(network_.AwaitCall(address_));
    const DeviceId caller = DeviceOf(keeper_.replica().device_key());
    v1::DeliverAgainRequest sent = request;
    if (keeper_.forgets_first_times) sent.clear_head();
    return server_.Recover(caller, [&](const server::Recovery& recovery) {
      const std::vector<DueTime> due =
          DueTimes(keeper_.replica(), server_.store(), request.chunk());
      const absl::Status status = recovery.DeliverAgain(caller, sent, response);
      // Of a server that it does not know any more it believes nothing.
      disbelieved_ = disbelieved_ || ReasonOf(status) == "HEAD_OTHER";
      for (const DueTime& one : due) {
        if (disbelieved_ || !CountsLater(server_.store(), one)) continue;
        keeper_.complaints.push_back(
            fmt::format("days: commit {} of device {} had arrived before the loss, and counts from "
                        "later on",
                        one.seq, ToShortText(one.chain.device)));
      }
      return status;
    });
  }

 private:
  template <typename Request, typename Response>
  absl::Status Call(absl::Status (server::Recovery::*method)(const Request&, Response&) const,
                    const Request& request, Response& response) {
    BP_RETURN_IF_ERROR(network_.AwaitCall(address_));
    return server_.Recover(
        DeviceOf(keeper_.replica().device_key()),
        [&](const server::Recovery& recovery) { return (recovery.*method)(request, response); });
  }

  KeeperNode& keeper_;
  KeeperNetwork& network_;
  ServerNode& server_;
  const std::string address_;
  bool disbelieved_ = false;
};

absl::Status KeeperNetwork::CheckReachable(const std::string& address) const {
  if (keeper_.cut_off || keeper_.machine().disk().dead()) return AwayError();
  if (!server_.runs() || server_.address() != address) return AwayError();
  return absl::OkStatus();
}

absl::StatusOr<std::string> KeeperNetwork::FetchAuthority(const std::string& address,
                                                          const Hash& /*fingerprint*/) {
  BP_RETURN_IF_ERROR(CheckReachable(address));
  return std::string(kPem);
}

absl::StatusOr<std::string> KeeperNetwork::AwaitEntry(
    const std::shared_ptr<ServerNode::Entry>& entry, const std::string& address) {
  keeper_.entry = entry;
  while (!entry->answer && !keeper_.gives_up && CheckReachable(address).ok()) keeper_.Wait();
  keeper_.entry.reset();
  if (!entry->answer || std::exchange(keeper_.gives_up, false)) return AwayError();
  BP_ASSIGN_OR_RETURN(const server::Receipt receipt, *entry->answer);
  if (receipt.verdict.kind == registry::VerdictKind::kCounted) return std::string(kPem);
  return Fail(absl::StatusCode::kFailedPrecondition, receipt.verdict.reason,
              receipt.verdict.message);
}

absl::StatusOr<std::string> KeeperNetwork::Claim(const sync::Credentials& credentials,
                                                 const std::string& /*claim_secret*/,
                                                 const facts::SignedCommit& founding,
                                                 const PublicKey& /*tls_key*/) {
  BP_RETURN_IF_ERROR(CheckReachable(credentials.address));
  const auto entry = std::make_shared<ServerNode::Entry>();
  BP_RETURN_IF_ERROR(server_.SubmitFounding(founding, entry));
  return AwaitEntry(entry, credentials.address);
}

absl::StatusOr<sync::TakenOver> KeeperNetwork::TakeOver(const sync::Credentials& credentials,
                                                        const sync::Takeover& takeover,
                                                        const PublicKey& /*tls_key*/,
                                                        const Signer& device) {
  BP_RETURN_IF_ERROR(AwaitCall(credentials.address));
  BP_ASSIGN_OR_RETURN(const sync::Head head,
                      server_.Succeed(DeviceOf(device.public_key()), takeover));
  return sync::TakenOver{.certificate_pem = kPem, .head = head};
}

absl::StatusOr<std::string> KeeperNetwork::Join(const sync::Credentials& credentials,
                                                const Hash& cooperative,
                                                const facts::SignedCommit& joining,
                                                const PublicKey& /*tls_key*/,
                                                const Signer& /*device*/) {
  BP_RETURN_IF_ERROR(CheckReachable(credentials.address));
  const auto entry = std::make_shared<ServerNode::Entry>();
  BP_RETURN_IF_ERROR(server_.SubmitJoining(cooperative, joining, entry));
  return AwaitEntry(entry, credentials.address);
}

absl::StatusOr<std::string> KeeperNetwork::JoinAgain(const sync::Credentials& credentials,
                                                     const sync::Reentry& reentry,
                                                     const PublicKey& tls_key,
                                                     const Signer& device) {
  const auto join = [&] {
    return Join(credentials, reentry.cooperative, reentry.joining, tls_key, device);
  };
  absl::StatusOr<std::string> entered = join();
  if (ReasonOf(entered.status()) != "INVITE_UNKNOWN") return entered;
  const auto entry = std::make_shared<ServerNode::Entry>();
  if (!server_.SubmitInviting(reentry, entry).ok()) return entered;
  const absl::Status brought = AwaitEntry(entry, credentials.address).status();
  return absl::IsUnavailable(brought) ? brought : join();
}

absl::StatusOr<std::string> KeeperNetwork::Renew(const sync::Credentials& credentials,
                                                 const Signer& device, const PublicKey& /*tls_key*/,
                                                 const std::vector<facts::SignedCommit>&
                                                 /*rotations: nobody rotates here*/) {
  BP_RETURN_IF_ERROR(AwaitCall(credentials.address));
  BP_RETURN_IF_ERROR(server_.CheckRenews(DeviceOf(device.public_key())));
  return std::string(kPem);
}

absl::StatusOr<sync::Progress> KeeperNetwork::RunSession(const sync::Credentials& credentials,
                                                         sync::Target& target,
                                                         const sync::Options& options) {
  BP_RETURN_IF_ERROR(CheckReachable(credentials.address));
  const std::shared_ptr<Wire> wire = server_.Connect(DeviceOf(keeper_.replica().device_key()));
  keeper_.wire = wire;
  const auto end = [&](absl::StatusOr<sync::Progress> result) {
    if (result.ok()) {
      wire->SendEnd();
    } else {
      wire->Break();
    }
    keeper_.wire.reset();
    return result;
  };
  sync::Exchange exchange(target, options,
                          [&](const v1::SyncRequest& request) { return wire->Send(request); });
  exchange.Greet();
  while (true) {
    while (!wire->HasArrived() && !options.stop.stop_requested() &&
           !keeper_.machine().disk().dead()) {
      keeper_.Wait();
    }
    if (wire->HasArrived()) {
      const Down down = wire->TakeArrived();
      if (!down.message) {
        exchange.ReceiveEnd(down.end);
      } else if (const absl::Status status = exchange.Receive(*down.message); !status.ok()) {
        exchange.ReceiveEnd(status);
      }
    } else {
      exchange.ReceiveEnd(absl::CancelledError("the session was stopped"));
    }
    while (exchange.HasNews()) {
      const absl::StatusOr<bool> done = exchange.WorkOff();
      if (!done.ok()) return end(done.status());
      if (!*done) continue;
      if (const auto growth = exchange.growth()) {
        const absl::Status grown = CheckGrowth(credentials.address, growth->before, growth->after);
        if (!grown.ok()) return end(grown);
      }
      return end(exchange.progress());
    }
  }
}

// As sync::CheckGrowth asks the server and judges its answer.
absl::Status KeeperNetwork::CheckGrowth(const std::string& address, const sync::Head& before,
                                        const sync::Head& after) const {
  if (before.epoch != after.epoch || before.point.arrivals >= after.point.arrivals ||
      !CheckReachable(address).ok()) {
    return absl::OkStatus();
  }
  const auto proof =
      ConsistencyProof(*server_.store().TreeNodes(), before.point.arrivals, after.point.arrivals);
  if (!proof.ok()) return absl::OkStatus();
  if (VerifyConsistency({.size = before.point.arrivals, .root = before.tree_root},
                        {.size = after.point.arrivals, .root = after.tree_root}, *proof)
          .ok()) {
    return absl::OkStatus();
  }
  return Fail(absl::StatusCode::kDataLoss, "PROOF_WRONG", "the server does not prove its growth");
}

absl::StatusOr<sync::Head> KeeperNetwork::FetchHead(const sync::Credentials& credentials,
                                                    const Hash& /*cooperative*/,
                                                    std::int64_t /*now_ms*/) {
  BP_RETURN_IF_ERROR(CheckReachable(credentials.address));
  return server_.log().herald().head();
}

absl::Status KeeperNetwork::AwaitCall(const std::string& address) {
  BP_RETURN_IF_ERROR(CheckReachable(address));
  keeper_.calls = true;
  while (keeper_.calls && CheckReachable(address).ok()) keeper_.Wait();
  keeper_.calls = false;
  BP_RETURN_IF_ERROR(CheckReachable(address));
  if (keeper_.turned_away == 0) return absl::OkStatus();
  --keeper_.turned_away;
  return Fail(absl::StatusCode::kResourceExhausted, "SERVER_BUSY",
              "the server has more to do than it takes on; sync again in a minute");
}

absl::StatusOr<std::unique_ptr<sync::Recovery>> KeeperNetwork::OpenRecovery(
    const sync::Credentials& credentials, const Hash& cooperative, std::int64_t /*now_ms*/) {
  return sync::RecoveryBy(
      std::make_unique<SimulatedWay>(keeper_, *this, server_, credentials.address), cooperative);
}

absl::StatusOr<std::unique_ptr<sync::Snapshots>> KeeperNetwork::OpenSnapshots(
    const sync::Credentials& /*credentials*/, const Hash& /*cooperative*/,
    std::int64_t /*now_ms*/) {
  return absl::UnimplementedError("no such service");
}

}  // namespace broodpact::simulation
