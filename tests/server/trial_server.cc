#include "tests/server/trial_server.h"

#include <chrono>
#include <thread>
#include <utility>

#include "client/base/status.h"
#include "client/sync/invite_code.h"
#include "client/sync/joining.h"

namespace broodpact::server {

void TrialServer::Start() {
  const absl::Status status = TryStart();
  ASSERT_TRUE(status.ok()) << status;
}

absl::Status TrialServer::TryStart() {
  options.folder = folder_ / "server";
  BP_ASSIGN_OR_RETURN(server_, Server::Start(options, {.clock = clock_,
                                                       .randomness = device::SystemRandomness(),
                                                       .log = log_}));
  return absl::OkStatus();
}

Member::Member(std::string name)
    : name_(std::move(name)), keeper_(device::FreshId<KeeperId>(device::SystemRandomness())) {
  auto opened = store::Store::Open(folder_ / "replica", store::Access::kReadWrite);
  BP_CHECK(opened.ok());
  store_ = *std::move(opened);
  ledger_ = std::make_unique<replica::Ledger>(*store_);
  credentials_.key_pem = tls_key_.Pem();
}

Member::~Member() = default;

facts::SignedCommit Member::Commit(const std::vector<facts::Statement>& statements) {
  const facts::LogPoint seen = store_->point();
  const facts::CommitHeader header{.cooperative = ledger_->cooperative(),
                                   .device = chain().device,
                                   .seq = newest_.seq + 1,
                                   .prev = newest_.hash,
                                   .seen = facts::SeenOf(seen.arrivals, seen.log_hash),
                                   .clock_ms = device::SystemClock().NowMillis()};
  facts::SignedCommit commit{.bytes = facts::BuildCommit(header, statements)};
  newest_ = {.seq = header.seq, .hash = Sha256(commit.bytes)};
  commit.signature = facts::SignCommit(key_, newest_.hash);
  pending_.push_back(commit);
  pending_seqs_.push_back(header.seq);
  return commit;
}

void Member::CommitGroups(int count) {
  for (int i = 0; i < count; ++i) {
    const auto id = device::FreshId<GroupId>(device::SystemRandomness());
    Commit({facts::GroupEntry{.group = id, .name = ToText(id), .taxon = "Brachypelma hamorii"}});
  }
}

absl::Status Member::FoundAndClaim(const std::string& code) {
  BP_ASSIGN_OR_RETURN(const sync::InviteCode claim, sync::ParseInviteCode(code));
  const facts::SignedCommit founding = Commit({facts::Founding{.name = "hamorii",
                                                               .keeper = keeper_,
                                                               .keeper_name = name_,
                                                               .device_key = key_.public_key(),
                                                               .region = ""}});
  BP_RETURN_IF_ERROR(ledger_->SetCooperative(newest_.hash));
  credentials_.address = claim.address;
  BP_ASSIGN_OR_RETURN(credentials_.authority_pem,
                      sync::FetchAuthority(claim.address, claim.authority));
  BP_ASSIGN_OR_RETURN(credentials_.certificate_pem,
                      sync::Claim(credentials_, claim.secret, founding, tls_key_.public_key()));
  return absl::OkStatus();
}

std::string Member::Invite(const std::string& address, const Hash& authority) {
  const std::string secret = device::SystemRandomness().Bytes(sync::kSecretSize);
  const Hash seed = sync::InviteSeed(cooperative(), secret);
  Commit({facts::Invitation{.invite_key = device::SecretKey::OfSeed(ViewOf(seed)).public_key(),
                            .role = facts::Role::kKeeper,
                            .keeper_name = ""}});
  return sync::BuildInviteCode(
      {.cooperative = cooperative(), .authority = authority, .secret = secret, .address = address});
}

facts::SignedCommit Member::JoiningCommit(const std::string& code) {
  const auto invite = sync::ParseInviteCode(code);
  BP_CHECK(invite.ok() && ledger_->SetCooperative(invite->cooperative).ok());
  const Hash seed = sync::InviteSeed(invite->cooperative, invite->secret);
  const device::SecretKey key = device::SecretKey::OfSeed(ViewOf(seed));
  return Commit({facts::Joining{.invite_key = key.public_key(),
                                .keeper = keeper_,
                                .keeper_name = name_,
                                .device_key = key_.public_key(),
                                .invite_signature = key.Sign(facts::JoiningMessage(
                                    invite->cooperative, keeper_, key_.public_key())),
                                .region = ""}});
}

absl::Status Member::Join(const std::string& code) {
  BP_ASSIGN_OR_RETURN(const sync::InviteCode invite, sync::ParseInviteCode(code));
  const facts::SignedCommit joining = JoiningCommit(code);
  credentials_.address = invite.address;
  BP_ASSIGN_OR_RETURN(credentials_.authority_pem,
                      sync::FetchAuthority(invite.address, invite.authority));
  BP_ASSIGN_OR_RETURN(
      credentials_.certificate_pem,
      sync::Join(credentials_, invite.cooperative, joining, tls_key_.public_key(), key_));
  return absl::OkStatus();
}

FurtherDevice EnterFurtherDevice(Member& keeper) {
  const device::SecretKey invite = device::SecretKey::Generate();
  keeper.Commit({facts::DeviceInvitation{
      .invite_key = invite.public_key(), .keeper = keeper.keeper(), .label = "field"}});
  BP_CHECK(keeper.Sync().ok());
  device::SecretKey key = device::SecretKey::Generate();
  const device::SecretKey tls_key = device::SecretKey::Generate();
  const std::string bytes = facts::BuildCommit(
      {.cooperative = keeper.cooperative(), .device = DeviceOf(key.public_key()), .seq = 1},
      {facts::DeviceJoining{.invite_key = invite.public_key(),
                            .keeper = keeper.keeper(),
                            .device_key = key.public_key(),
                            .invite_signature = invite.Sign(facts::JoiningMessage(
                                keeper.cooperative(), keeper.keeper(), key.public_key()))}});
  sync::Credentials credentials = keeper.credentials();
  const auto pem = sync::Join(credentials, keeper.cooperative(),
                              {.bytes = bytes, .signature = facts::SignCommit(key, Sha256(bytes))},
                              tls_key.public_key(), key);
  BP_CHECK(pem.ok());
  credentials.certificate_pem = *pem;
  credentials.key_pem = tls_key.Pem();
  return {.key = std::move(key), .credentials = std::move(credentials)};
}

absl::StatusOr<sync::Progress> Member::Sync() {
  sync::Options options;
  options.now_ms = device::SystemClock().NowMillis();
  return Sync(options);
}

absl::StatusOr<sync::Progress> Member::Sync(const sync::Options& options) {
  return sync::RunSession(credentials_, *this, options);
}

absl::Status Member::Apply(facts::Range range) {
  BP_RETURN_IF_ERROR(ledger_->Append(range, std::nullopt, store::Durability::kSynced).status());
  for (const facts::Arrived& arrived : range.arrivals) {
    if (pending_seqs_.empty() || facts::ChainOf(arrived.commit.header) != chain()) continue;
    if (arrived.commit.header.seq != pending_seqs_.front()) continue;
    pending_.erase(pending_.begin());
    pending_seqs_.erase(pending_seqs_.begin());
  }
  applied_ = range.after.arrivals;
  if (on_apply) on_apply();
  return absl::OkStatus();
}

absl::StatusOr<std::vector<facts::SignedCommit>> Member::Undelivered(
    const facts::ChainHead& server_head) {
  std::vector<facts::SignedCommit> run;
  std::size_t bytes = 0;
  for (std::size_t i = 0; i < pending_.size(); ++i) {
    if (pending_seqs_[i] <= server_head.seq) continue;
    bytes += pending_[i].bytes.size();
    if (run.size() == sync::kPushCommitsMax || bytes > sync::kPushBytesMax) break;
    run.push_back(pending_[i]);
  }
  return run;
}

absl::Status Member::KeepHead(const sync::Head& head) {
  head_ = head;
  return absl::OkStatus();
}

Cooperative::Cooperative() {
  server_.Start();
  const std::optional<std::string> code = server_.server().claim_code();
  EXPECT_TRUE(code.has_value());
  authority_ = sync::ParseInviteCode(*code)->authority;
  const absl::Status claimed = mira_.FoundAndClaim(*code);
  EXPECT_TRUE(claimed.ok()) << claimed;
  const absl::Status joined = tomas_.Join(Invite());
  EXPECT_TRUE(joined.ok()) << joined;
}

std::string Cooperative::Invite() {
  const std::string code = mira_.Invite(server_.server().address(), authority_);
  const auto synced = mira_.Sync();
  EXPECT_TRUE(synced.ok()) << synced.status();
  return code;
}

bool Eventually(const std::function<bool()>& condition) {
  for (int i = 0; i < 2'000; ++i) {
    if (condition()) return true;
    std::this_thread::sleep_for(std::chrono::milliseconds(5));
  }
  return false;
}

}  // namespace broodpact::server
