#include "server/server.h"

#include <chrono>
#include <cstdlib>
#include <filesystem>
#include <system_error>
#include <utility>

#include "absl/status/status.h"
#include <fmt/format.h>
#include <grpcpp/ext/proto_server_reflection_plugin.h>
#include <grpcpp/grpcpp.h>
#include <grpcpp/health_check_service_interface.h>
#include <grpcpp/resource_quota.h>

#include "client/base/check.h"
#include "client/base/status.h"
#include "client/device/private_file.h"
#include "client/replica/folding.h"
#include "client/store/store.h"
#include "client/sync/address.h"
#include "client/sync/invite_code.h"
#include "server/allowance.h"
#include "server/arrival_log.h"
#include "server/authority.h"
#include "server/callers.h"
#include "server/claim.h"
#include "server/folder.h"
#include "server/joining_service.h"
#include "server/log_service.h"
#include "server/recovery_service.h"
#include "server/registry_service.h"
#include "server/snapshot_service.h"
#include "server/snapshots.h"
#include "server/sync_service.h"

namespace broodpact::server {
namespace {

// A suite of TLS 1.2 that needs an RSA certificate, which this server never has: no handshake of
// 1.2 finds a suite. Those of TLS 1.3 are not governed by this list.
constexpr const char* kSuitesOfTls12 = "ECDHE-RSA-AES256-GCM-SHA384";

constexpr int kReceiveBytesMax = 4 * 1'024 * 1'024;
constexpr int kStreamsMax = 100;  // of one connection
constexpr int kKeepaliveMillis = 30'000;
constexpr int kKeepaliveTimeoutMillis = 10'000;
constexpr int kPingIntervalMillisMin = 10'000;
constexpr std::size_t kMemoryBytesMax = std::size_t{1} << 30U;
constexpr int kThreadsMax = 64;
constexpr std::chrono::seconds kStopPatience{5};

// The host that an invite code names: the first one given, else the one that is listened on.
std::string HostOf(const ServerOptions& options, const sync::Address& listen) {
  if (!options.hosts.empty()) return options.hosts.front();
  const bool anywhere = listen.host == "0.0.0.0" || listen.host == "::";
  return anywhere ? "localhost" : listen.host;
}

std::vector<std::string> HostsOf(const ServerOptions& options, const sync::Address& listen) {
  std::vector<std::string> hosts = options.hosts;
  hosts.push_back(HostOf(ServerOptions{}, listen));
  return hosts;
}

// A log that another key has signed is no log of a fresh one: keepers would take it for a cheat's.
absl::Status CheckKeyOfLog(const store::Store& database, const Folder& folder) {
  std::error_code error;
  if (database.point().arrivals == 0 || std::filesystem::exists(folder.log_key(), error)) {
    return absl::OkStatus();
  }
  return Fail(
      absl::StatusCode::kDataLoss, "KEY_MISSING",
      fmt::format("{} is missing, and the log in this folder was signed with it; put it back "
                  "from its copy, or start with an empty folder and let a registrar give "
                  "the server to the cooperative (`broodpact server take`)",
                  folder.log_key().string()));
}

std::shared_ptr<grpc::ServerCredentials> CredentialsOf(const Authority& authority) {
  // A certificate is asked for and verified, but may be missing: a newcomer has none yet. Every
  // service but the joining one asks for the caller itself (callers.h).
  grpc::SslServerCredentialsOptions options(GRPC_SSL_REQUEST_CLIENT_CERTIFICATE_AND_VERIFY);
  options.pem_root_certs = authority.pem();
  options.pem_key_cert_pairs.push_back(
      {.private_key = authority.server_key_pem(), .cert_chain = authority.server_chain_pem()});
  return grpc::SslServerCredentials(options);
}

void SetLimits(grpc::ServerBuilder& builder) {
  builder.SetMaxReceiveMessageSize(kReceiveBytesMax);
  // gRPC unpacks before it looks at the size: without these two, a small message could cost any
  // amount of memory. What is compressed here is compressed inside messages, with a bound.
  builder.SetCompressionAlgorithmSupportStatus(GRPC_COMPRESS_GZIP, false);
  builder.SetCompressionAlgorithmSupportStatus(GRPC_COMPRESS_DEFLATE, false);
  builder.AddChannelArgument(GRPC_ARG_MAX_CONCURRENT_STREAMS, kStreamsMax);
  builder.AddChannelArgument(GRPC_ARG_KEEPALIVE_TIME_MS, kKeepaliveMillis);
  builder.AddChannelArgument(GRPC_ARG_KEEPALIVE_TIMEOUT_MS, kKeepaliveTimeoutMillis);
  builder.AddChannelArgument(GRPC_ARG_HTTP2_MAX_PINGS_WITHOUT_DATA, 0);
  builder.AddChannelArgument(GRPC_ARG_HTTP2_MIN_RECV_PING_INTERVAL_WITHOUT_DATA_MS,
                             kPingIntervalMillisMin);
  // Two servers on one port would each get half of the connections.
  builder.AddChannelArgument(GRPC_ARG_ALLOW_REUSEPORT, 0);
  builder.SetSyncServerOption(grpc::ServerBuilder::NUM_CQS, 1);
  builder.SetSyncServerOption(grpc::ServerBuilder::MIN_POLLERS, 1);
  builder.SetSyncServerOption(grpc::ServerBuilder::MAX_POLLERS, 4);
  grpc::ResourceQuota quota("broodpact-server");
  quota.Resize(kMemoryBytesMax);
  quota.SetMaxThreads(kThreadsMax);
  builder.SetResourceQuota(quota);
}

}  // namespace

// In the order in which each needs those before it.
struct Server::Rep {
  explicit Rep(const ServerSurroundings& outside) : surroundings(outside) {}

  absl::Status Open(const ServerOptions& options);
  absl::Status Listen(const ServerOptions& options, const sync::Address& listen);

  ServerSurroundings surroundings;
  std::unique_ptr<store::Store> store;
  std::optional<device::SecretKey> log_key;
  std::optional<Authority> authority;
  std::optional<ClaimSecret> claim;
  std::optional<Callers> callers;
  std::unique_ptr<Snapshots> snapshots;
  std::unique_ptr<ArrivalLog> arrival_log;
  Allowance allowance;
  std::unique_ptr<JoiningService> joining_service;
  std::unique_ptr<RegistryService> registry_service;
  std::unique_ptr<LogService> log_service;
  std::unique_ptr<RecoveryService> recovery_service;
  std::unique_ptr<SnapshotService> snapshot_service;
  std::unique_ptr<SyncService> sync_service;
  std::unique_ptr<grpc::Server> grpc_server;
  std::string address;
  std::string code_address;  // as invite codes name it
};

absl::Status Server::Rep::Open(const ServerOptions& options) {
  const std::optional<sync::Address> listen = sync::ParseAddress(options.listen);
  if (!listen.has_value()) {
    return Fail(
        absl::StatusCode::kInvalidArgument, "ADDRESS_FORM",
        fmt::format("'{}' is no address to listen on; write it as 0.0.0.0:7443", options.listen));
  }
  const Folder folder(options.folder);
  BP_RETURN_IF_ERROR(folder.Make());
  // First of all: it is what tells that another server runs on this folder.
  BP_ASSIGN_OR_RETURN(store, store::Store::Open(folder.database(), store::Access::kReadWrite));
  BP_RETURN_IF_ERROR(replica::FoldByTheseRules(*store));
  BP_RETURN_IF_ERROR(CheckKeyOfLog(*store, folder));
  BP_ASSIGN_OR_RETURN(log_key, LoadOrMakeKey(folder.log_key()));
  BP_ASSIGN_OR_RETURN(authority, Authority::Open(folder, HostsOf(options, *listen),
                                                 surroundings.clock.NowMillis()));
  BP_ASSIGN_OR_RETURN(claim, ClaimSecret::Open(folder, *store, surroundings.randomness));
  callers.emplace(*store, surroundings.clock);
  snapshots = Snapshots::Open({.store = *store,
                               .log = surroundings.log,
                               .folder = folder.snapshots(),
                               .interval = options.snapshot_arrivals});
  BP_ASSIGN_OR_RETURN(arrival_log,
                      ArrivalLog::Start({.store = *store,
                                         .log_key = *log_key,
                                         .clock = surroundings.clock,
                                         .log = surroundings.log,
                                         .on_written = [this] { snapshots->OnWritten(); }}));
  joining_service = std::make_unique<JoiningService>(
      JoiningService::Surroundings{.store = *store,
                                   .arrival_log = *arrival_log,
                                   .authority = *authority,
                                   .claim = *claim,
                                   .callers = *callers,
                                   .allowance = allowance,
                                   .clock = surroundings.clock,
                                   .randomness = surroundings.randomness,
                                   .log = surroundings.log});
  registry_service = std::make_unique<RegistryService>(*store, *callers, surroundings.clock);
  log_service = std::make_unique<LogService>(*store, arrival_log->herald(), *callers);
  recovery_service = std::make_unique<RecoveryService>(Recovery({.store = *store,
                                                                 .arrival_log = *arrival_log,
                                                                 .callers = *callers,
                                                                 .log = surroundings.log,
                                                                 .allowance = allowance,
                                                                 .log_key = log_key->public_key()}),
                                                       *callers);
  snapshot_service = std::make_unique<SnapshotService>(*snapshots, *arrival_log, *callers);
  sync_service =
      std::make_unique<SyncService>(SyncService::Surroundings{.store = *store,
                                                              .arrival_log = *arrival_log,
                                                              .callers = *callers,
                                                              .clock = surroundings.clock,
                                                              .log = surroundings.log,
                                                              .allowance = allowance,
                                                              .snapshots = snapshots.get()});
  BP_RETURN_IF_ERROR(Listen(options, *listen));
  return device::WritePrivateFile(folder.address(), address + "\n");
}

absl::Status Server::Rep::Listen(const ServerOptions& options, const sync::Address& listen) {
  grpc::EnableDefaultHealthCheckService(true);
  grpc::reflection::InitProtoReflectionServerBuilderPlugin();
  grpc::ServerBuilder builder;
  SetLimits(builder);
  BP_CHECK(authority.has_value());
  int port = 0;
  builder.AddListeningPort(sync::ToText(listen), CredentialsOf(*authority), &port);
  builder.RegisterService(joining_service.get());
  builder.RegisterService(registry_service.get());
  builder.RegisterService(log_service.get());
  builder.RegisterService(recovery_service.get());
  builder.RegisterService(snapshot_service.get());
  builder.RegisterService(sync_service.get());
  grpc_server = builder.BuildAndStart();
  if (grpc_server == nullptr || port == 0) {
    return Fail(absl::StatusCode::kUnavailable, "ADDRESS_TAKEN",
                fmt::format("nobody can listen on {}: it is taken, or not this machine's",
                            sync::ToText(listen)));
  }
  const auto bound = static_cast<std::uint16_t>(port);
  address = sync::ToText({.host = listen.host, .port = bound});
  code_address = sync::ToText({.host = HostOf(options, listen), .port = bound});
  return absl::OkStatus();
}

Server::Server(std::unique_ptr<Rep> rep) : rep_(std::move(rep)) {}

Server::~Server() {
  Stop();
}

absl::StatusOr<std::unique_ptr<Server>> Server::Start(const ServerOptions& options,
                                                      const ServerSurroundings& surroundings) {
  setenv("GRPC_SSL_CIPHER_SUITES", kSuitesOfTls12, 1);  // NOLINT(concurrency-mt-unsafe): see above
  std::unique_ptr<Server> server(new Server(std::make_unique<Rep>(surroundings)));
  BP_RETURN_IF_ERROR(server->rep_->Open(options));
  surroundings.log.Write(Level::kInfo, "listening",
                         {{"address", server->address()},
                          {"arrivals", fmt::to_string(server->rep_->store->point().arrivals)},
                          {"claimed", server->rep_->arrival_log->claimed() ? "yes" : "no"}});
  return server;
}

const std::string& Server::address() const {
  return rep_->address;
}

std::optional<std::string> Server::claim_code() const {
  const std::optional<Authority>& authority = rep_->authority;
  const std::optional<ClaimSecret>& claim = rep_->claim;
  if (rep_->arrival_log->claimed() || !authority || !claim) return std::nullopt;
  const std::optional<std::string>& secret = claim->secret();
  if (!secret) return std::nullopt;
  return sync::BuildInviteCode({.cooperative = {},
                                .authority = authority->fingerprint(),
                                .secret = *secret,
                                .address = rep_->code_address});
}

void Server::Stop() {
  if (rep_->grpc_server != nullptr) {
    rep_->surroundings.log.Write(Level::kInfo, "stopping", {{"address", rep_->address}});
    rep_->grpc_server->GetHealthCheckService()->Shutdown();
    rep_->sync_service->Stop();
    rep_->grpc_server->Shutdown(std::chrono::system_clock::now() + kStopPatience);
  }
  if (rep_->arrival_log != nullptr) rep_->arrival_log->Stop();
  if (rep_->snapshots != nullptr) rep_->snapshots->Stop();
  if (rep_->grpc_server != nullptr) {
    rep_->grpc_server.reset();
    rep_->store->Flush().IgnoreError();  // what is not flushed is replayed at the next start
    rep_->surroundings.log.Write(Level::kInfo, "stopped",
                                 {{"arrivals", fmt::to_string(rep_->store->point().arrivals)}});
  }
}

}  // namespace broodpact::server
