#pragma once

// A real server in this process, on a free port of loopback, with a folder and a clock of its own;
// and members with small replicas of theirs.

#include <atomic>
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <sstream>
#include <string>
#include <vector>

#include <gtest/gtest.h>

#include "client/device/clock.h"
#include "client/device/key.h"
#include "client/device/random.h"
#include "client/facts/statement.h"
#include "client/replica/ledger.h"
#include "client/store/store.h"
#include "client/sync/connection.h"
#include "client/sync/session.h"
#include "server/log.h"
#include "server/server.h"
#include "tests/device/temporary_folder.h"

namespace grpc {
class Channel;
}  // namespace grpc

namespace broodpact::server {

// The system's clock, moved.
class MovedClock final : public device::Clock {
 public:
  std::int64_t NowMillis() const override {
    return device::SystemClock().NowMillis() + moved_ms_.load();
  }
  Day Today() const override { return DayOfMillis(NowMillis()); }
  void Move(std::int64_t ms) { moved_ms_ += ms; }

 private:
  std::atomic<std::int64_t> moved_ms_{0};
};

inline constexpr std::int64_t kDay = 86'400'000;

class TrialServer {
 public:
  // Not started yet.
  TrialServer() = default;

  void Start();
  void Stop() { server_.reset(); }

  absl::Status TryStart();
  Server& server() { return *server_; }
  MovedClock& clock() { return clock_; }
  const std::filesystem::path& folder() const { return folder_.path(); }
  std::string log() const { return out_.str(); }

  // What the next start is told.
  ServerOptions options{.folder = {}, .listen = "127.0.0.1:0", .hosts = {}};

 private:
  device::TemporaryFolder folder_;
  MovedClock clock_;
  std::ostringstream out_;
  Log log_{out_, Level::kDebug, clock_};
  std::unique_ptr<Server> server_;
};

// A keeper's device with a replica.
class Member final : public sync::Target {
 public:
  explicit Member(std::string name);
  ~Member() override;

  const device::SecretKey& key() const { return key_; }
  facts::ChainId chain() const { return {.device = DeviceOf(key_.public_key())}; }
  KeeperId keeper() const { return keeper_; }
  sync::Credentials& credentials() { return credentials_; }
  const store::Store& store() const { return *store_; }
  // Own commits that were made and have not arrived.
  std::vector<facts::SignedCommit>& pending() { return pending_; }

  // Signs a commit; it waits for the next sync.
  facts::SignedCommit Commit(const std::vector<facts::Statement>& statements);
  // So many groups, a commit each.
  void CommitGroups(int count);

  // Founds a cooperative and claims the server with its code.
  absl::Status FoundAndClaim(const std::string& code);
  // Writes an invitation and returns its code.
  std::string Invite(const std::string& address, const Hash& authority);
  absl::Status Join(const std::string& code);

  // The first commit of a newcomer with this code. The caller sends it.
  facts::SignedCommit JoiningCommit(const std::string& code);

  absl::StatusOr<sync::Progress> Sync();
  absl::StatusOr<sync::Progress> Sync(const sync::Options& options);

  Hash cooperative() const override { return ledger_->cooperative(); }
  std::uint32_t incarnation() const override { return 1; }
  facts::LogPoint point() const override { return store_->point(); }
  absl::Status Apply(facts::Range range) override;
  absl::StatusOr<std::vector<facts::SignedCommit>> Undelivered(
      const facts::ChainHead& server_head) override;
  absl::Status KeepHead(const sync::Head& head) override;

  const std::optional<sync::Head>& head() const { return head_; }
  std::uint64_t applied() const { return applied_.load(); }  // arrivals, from any thread
  std::function<void()> on_apply;                            // may be empty

 private:
  std::string name_;
  device::TemporaryFolder folder_;
  device::SecretKey key_ = device::SecretKey::Generate();
  device::SecretKey tls_key_ = device::SecretKey::Generate();
  KeeperId keeper_;
  sync::Credentials credentials_;
  std::unique_ptr<store::Store> store_;
  std::unique_ptr<replica::Ledger> ledger_;
  facts::ChainHead newest_;
  std::vector<facts::SignedCommit> pending_;
  std::vector<std::uint64_t> pending_seqs_;
  std::optional<sync::Head> head_;
  std::atomic<std::uint64_t> applied_{0};
};

// A device more of a keeper, which his first one has invited.
struct FurtherDevice {
  device::SecretKey key;
  sync::Credentials credentials;
};
FurtherDevice EnterFurtherDevice(Member& keeper);

// A server, its founder mira, and tomas who joined.
class Cooperative : public ::testing::Test {
 protected:
  Cooperative();

  // The fingerprint of the server's authority.
  Hash Authority() const { return authority_; }
  std::string Invite();

  TrialServer server_;
  Member mira_{"mira"};
  Member tomas_{"tomas"};
  Hash authority_{};
};

// Waits until `condition` holds, at most ten seconds. Returns whether it does.
bool Eventually(const std::function<bool()>& condition);

}  // namespace broodpact::server
