// Goal: the server speaks TLS 1.3 only, says who it is and how it is, keeps its folder to itself,
// and starts, stops and fails clearly. Method: a real server; OpenSSL and gRPC clients by hand.

#include "server/server.h"

#include <filesystem>
#include <fstream>
#include <future>

#include <grpcpp/generic/generic_stub.h>
#include <grpcpp/grpcpp.h>
#include <gtest/gtest.h>

#include "client/base/status.h"
#include "client/device/private_file.h"
#include "client/sync/certificate.h"
#include "client/sync/invite_code.h"
#include "client/sync/openssl.h"
#include "tests/server/trial_server.h"

namespace broodpact::server {
namespace {

using ServerTest = Cooperative;

// Whether a TLS handshake of just this version works.
bool Shakes(const std::string& address, int version) {
  const sync::TlsContextOwner context(SSL_CTX_new(TLS_client_method()));
  SSL_CTX_set_min_proto_version(context.get(), version);
  SSL_CTX_set_max_proto_version(context.get(), version);
  SSL_CTX_set_verify(context.get(), SSL_VERIFY_NONE, nullptr);
  const sync::BioOwner bio(BIO_new_ssl_connect(context.get()));
  SSL* tls = nullptr;
  BIO_get_ssl(bio.get(), &tls);
  constexpr unsigned char kHttp2[] = {2, 'h', '2'};
  SSL_set_alpn_protos(tls, kHttp2, sizeof(kHttp2));
  BIO_set_conn_hostname(bio.get(), address.c_str());
  return BIO_do_connect(bio.get()) == 1 && BIO_do_handshake(bio.get()) == 1;
}

// Calls a method by name, as the device of the certificate, if there is one.
grpc::Status Call(const sync::Credentials& credentials, const std::string& method) {
  grpc::SslCredentialsOptions options;
  options.pem_root_certs = credentials.authority_pem;
  options.pem_cert_chain = credentials.certificate_pem;
  options.pem_private_key = credentials.key_pem;
  grpc::ChannelArguments arguments;
  arguments.SetSslTargetNameOverride("broodpact-server");
  grpc::GenericStub stub(
      grpc::CreateCustomChannel(credentials.address, grpc::SslCredentials(options), arguments));
  grpc::ClientContext context;
  const grpc::Slice empty;
  const grpc::ByteBuffer request(&empty, 1);
  grpc::ByteBuffer response;
  std::promise<grpc::Status> promise;
  stub.UnaryCall(&context, method, {}, &request, &response,
                 [&promise](const grpc::Status& status) { promise.set_value(status); });
  return promise.get_future().get();
}

grpc::Status CallAnonymously(sync::Credentials credentials, const std::string& method) {
  credentials.certificate_pem.clear();
  credentials.key_pem.clear();
  return Call(credentials, method);
}

TEST_F(ServerTest, SpeaksTls13AndNothingOlder) {
  EXPECT_TRUE(Shakes(server_.server().address(), TLS1_3_VERSION));
  EXPECT_FALSE(Shakes(server_.server().address(), TLS1_2_VERSION));
}

TEST_F(ServerTest, AnswersHealthToAnybody) {
  const grpc::Status status = CallAnonymously(mira_.credentials(), "/grpc.health.v1.Health/Check");
  EXPECT_TRUE(status.ok()) << status.error_message();
}

TEST_F(ServerTest, HasReflection) {
  // A method with streams on both sides, called as if it had none: known, or it were UNIMPLEMENTED.
  const grpc::Status status = CallAnonymously(
      mira_.credentials(), "/grpc.reflection.v1alpha.ServerReflection/ServerReflectionInfo");
  EXPECT_NE(status.error_code(), grpc::StatusCode::UNIMPLEMENTED);
  EXPECT_EQ(CallAnonymously(mira_.credentials(), "/grpc.no.Such/Method").error_code(),
            grpc::StatusCode::UNIMPLEMENTED);
}

TEST_F(ServerTest, DoesNotKnowDevicesOfAnotherAuthority) {
  TrialServer other;
  other.Start();
  // The right server for the client, the wrong client for the server.
  sync::Credentials foreign = mira_.credentials();
  Member bela("bela");
  ASSERT_TRUE(bela.FoundAndClaim(*other.server().claim_code()).ok());
  foreign.certificate_pem = bela.credentials().certificate_pem;
  foreign.key_pem = bela.credentials().key_pem;
  EXPECT_EQ(Call(foreign, "/grpc.health.v1.Health/Check").error_code(),
            grpc::StatusCode::UNAVAILABLE);
  mira_.credentials() = foreign;
  EXPECT_EQ(ReasonOf(mira_.Sync().status()), "CERTIFICATE_OTHER") << "the client tells it already";
}

TEST_F(ServerTest, IsNotTakenForAnother) {
  TrialServer other;
  other.Start();
  tomas_.credentials().address = other.server().address();
  const auto synced = tomas_.Sync();
  EXPECT_EQ(synced.status().code(), absl::StatusCode::kPermissionDenied);
  EXPECT_EQ(ReasonOf(synced.status()), "SERVER_OTHER");
}

TEST_F(ServerTest, KeepsItsFolderToItself) {
  const std::filesystem::path folder = server_.folder() / "server";
  using std::filesystem::perms;
  EXPECT_EQ(std::filesystem::status(folder).permissions(), perms::owner_all);
  for (const char* file : {"authority.key", "server.key", "log.key", "authority.pem"}) {
    EXPECT_EQ(std::filesystem::status(folder / file).permissions(),
              perms::owner_read | perms::owner_write)
        << file;
  }
}

TEST_F(ServerTest, WritesDownWhereItListens) {
  std::ifstream file(server_.folder() / "server" / "address");
  std::string address;
  file >> address;
  EXPECT_EQ(address, server_.server().address());
}

TEST_F(ServerTest, DoesNotStartTwiceOnOneFolder) {
  Log log(std::cerr, Level::kError, server_.clock());
  const auto second = Server::Start(
      server_.options,
      {.clock = server_.clock(), .randomness = device::SystemRandomness(), .log = log});
  EXPECT_EQ(second.status().code(), absl::StatusCode::kUnavailable);
  EXPECT_EQ(ReasonOf(second.status()), "REPLICA_BUSY");
  EXPECT_TRUE(mira_.Sync().ok());
}

TEST_F(ServerTest, DoesNotSignALogWithAnotherKeyThanBefore) {
  server_.Stop();
  std::filesystem::remove(server_.folder() / "server" / "log.key");
  EXPECT_EQ(ReasonOf(server_.TryStart()), "KEY_MISSING");
  EXPECT_FALSE(std::filesystem::exists(server_.folder() / "server" / "log.key"));
}

TEST_F(ServerTest, LogsEventsAndNoSecrets) {
  const std::string code = Invite();
  server_.Stop();
  const std::string log = server_.log();
  for (const char* event : {" listening ", " claimed ", " joined ", " stream_opened ",
                            " stream_closed ", " stopping ", " stopped "}) {
    EXPECT_NE(log.find(event), std::string::npos) << event;
  }
  for (const std::string& secret : {std::string("broodpact1"), std::string("BEGIN"), code}) {
    EXPECT_EQ(log.find(secret), std::string::npos) << secret;
  }
}

TEST(Server, SaysThatAnAddressIsTakenOrNone) {
  TrialServer one;
  one.Start();
  TrialServer two;
  two.options.listen = one.server().address();
  EXPECT_EQ(ReasonOf(two.TryStart()), "ADDRESS_TAKEN");
  two.options.listen = "nowhere";
  EXPECT_EQ(ReasonOf(two.TryStart()), "ADDRESS_FORM");
  two.options.listen = "127.0.0.1:0";
  two.options.hosts = {"no host, no"};
  EXPECT_EQ(ReasonOf(two.TryStart()), "HOST_FORM");
}

TEST(Server, RenewsItsOwnCertificateAndStaysTheSameServer) {
  TrialServer server;
  server.clock().Move(-340 * kDay);  // so that the certificate is in its last month now
  server.Start();
  Member mira("mira");
  ASSERT_TRUE(mira.FoundAndClaim(*server.server().claim_code()).ok());
  const auto pem_of = [&] {
    return device::ReadPrivateFile(server.folder() / "server/server.pem");
  };
  const std::string first = *pem_of();
  server.options.listen = server.server().address();
  server.Stop();
  server.clock().Move(340 * kDay);
  server.Start();
  EXPECT_NE(*pem_of(), first);
  const auto synced = mira.Sync();
  EXPECT_TRUE(synced.ok()) << synced.status();
}

TEST(Server, PutsTheFirstNameIntoItsCode) {
  TrialServer server;
  server.options.hosts = {"registry.example.org", "192.0.2.7"};
  server.Start();
  const auto code = sync::ParseInviteCode(*server.server().claim_code());
  ASSERT_TRUE(code.ok());
  EXPECT_EQ(code->address.substr(0, code->address.find(':')), "registry.example.org");
}

}  // namespace
}  // namespace broodpact::server
