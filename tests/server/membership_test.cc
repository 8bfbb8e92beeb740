// Goal: on every call and stream, and at every push on a stream that is open, a device that was
// cut off, that nobody let in, or that is of another cooperative is refused with a sentence, and
// nothing of it is applied. Method: a real server; all methods of all services, as their
// descriptors list them, called by name.

#include <algorithm>
#include <future>
#include <string>
#include <thread>
#include <vector>

#include <google/protobuf/descriptor.h>
#include <grpcpp/generic/generic_stub.h>
#include <grpcpp/grpcpp.h>
#include <gtest/gtest.h>

#include "broodpact/v1/joining_service.pb.h"
#include "broodpact/v1/log_service.pb.h"
#include "broodpact/v1/registry_service.pb.h"
#include "broodpact/v1/sync_service.grpc.pb.h"
#include "client/base/status.h"
#include "client/sync/joining.h"
#include "server/authority.h"
#include "tests/server/trial_server.h"

namespace broodpact::server {
namespace {

// "/broodpact.v1.SyncService/Sync" and all others, but for the service that lets devices in.
std::vector<std::string> MethodsForMembers() {
  std::vector<std::string> methods;
  for (const google::protobuf::FileDescriptor* file :
       {v1::SyncRequest::descriptor()->file(), v1::GetHeadRequest::descriptor()->file(),
        v1::GetCooperativeRequest::descriptor()->file()}) {
    for (int i = 0; i < file->service_count(); ++i) {
      const google::protobuf::ServiceDescriptor& service = *file->service(i);
      for (int m = 0; m < service.method_count(); ++m) {
        methods.push_back("/" + service.full_name() + "/" + service.method(m)->name());
      }
    }
  }
  return methods;
}

// Calls a method with an empty request, and says how it ended.
absl::Status Call(const sync::Credentials& credentials, const std::string& method) {
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
  return sync::FromGrpc(promise.get_future().get(), context, credentials.address);
}

class MembershipTest : public Cooperative {
 protected:
  MembershipTest() {
    EXPECT_TRUE(tomas_.Sync().ok());
    EXPECT_TRUE(mira_.Sync().ok());
  }

  // Mira cuts tomas off after what has arrived of him.
  void RevokeTomas(std::vector<Hash> awaited = {}) {
    const facts::ChainHead head = *mira_.store().HeadOf(tomas_.chain());
    facts::Revocation cut{.device = tomas_.chain().device,
                          .incarnation = 1,
                          .seq = head.seq,
                          .hash = head.hash,
                          .reason = "stolen"};
    if (!awaited.empty()) {
      cut.seq += awaited.size();
      cut.hash = awaited.back();
      cut.awaited = std::move(awaited);
    }
    mira_.Commit({cut});
    const auto synced = mira_.Sync();
    ASSERT_TRUE(synced.ok()) << synced.status();
  }

  std::uint64_t Arrivals() {
    EXPECT_TRUE(mira_.Sync().ok());
    return mira_.point().arrivals;
  }

  struct Case {
    std::string who;
    sync::Credentials credentials;
    absl::StatusCode code;
    std::string reason;
    std::string says;
  };

  // Those who are not to be answered.
  std::vector<Case> Strangers() {
    std::vector<Case> cases;
    cases.push_back({.who = "revoked",
                     .credentials = tomas_.credentials(),
                     .code = absl::StatusCode::kPermissionDenied,
                     .reason = "DEVICE_REVOKED",
                     .says = "of tomas was revoked by mira"});
    sync::Credentials nobody = tomas_.credentials();
    nobody.certificate_pem.clear();
    nobody.key_pem.clear();
    cases.push_back({.who = "without a certificate",
                     .credentials = nobody,
                     .code = absl::StatusCode::kUnauthenticated,
                     .reason = "NO_CERTIFICATE",
                     .says = "join the cooperative first"});
    // With a certificate of this server's for a device that the registry does not have.
    const auto authority = Authority::Open(Folder(server_.folder() / "server"), {"127.0.0.1"},
                                           server_.clock().NowMillis());
    EXPECT_TRUE(authority.ok()) << authority.status();
    const device::SecretKey tls_key = device::SecretKey::Generate();
    sync::Credentials unknown = tomas_.credentials();
    unknown.key_pem = tls_key.Pem();
    unknown.certificate_pem =
        *authority->IssueClient(DeviceOf(device::SecretKey::Generate().public_key()),
                                tls_key.public_key(), server_.clock().NowMillis());
    cases.push_back({.who = "unknown",
                     .credentials = unknown,
                     .code = absl::StatusCode::kUnauthenticated,
                     .reason = "DEVICE_UNKNOWN",
                     .says = "ask a registrar for an invitation"});
    return cases;
  }
};

TEST_F(MembershipTest, EveryCallRefusesWhoIsCutOffOrUnknownAndAppliesNothing) {
  RevokeTomas();
  const std::uint64_t arrivals = Arrivals();
  const std::vector<std::string> methods = MethodsForMembers();
  EXPECT_GE(methods.size(), 16U);
  for (const Case& stranger : Strangers()) {
    for (const std::string& method : methods) {
      const absl::Status status = Call(stranger.credentials, method);
      EXPECT_EQ(status.code(), stranger.code) << stranger.who << " " << method << ": " << status;
      EXPECT_EQ(ReasonOf(status), stranger.reason) << stranger.who << " " << method;
      EXPECT_NE(status.message().find(stranger.says), std::string_view::npos)
          << stranger.who << " " << method << ": " << status;
    }
  }
  EXPECT_EQ(Arrivals(), arrivals);
}

TEST_F(MembershipTest, EveryCallRefusesADeviceOfAnotherCooperative) {
  TrialServer other;
  other.Start();
  Member bela("bela");
  ASSERT_TRUE(bela.FoundAndClaim(*other.server().claim_code()).ok());
  sync::Credentials foreign = tomas_.credentials();
  foreign.certificate_pem = bela.credentials().certificate_pem;
  foreign.key_pem = bela.credentials().key_pem;
  const std::uint64_t arrivals = Arrivals();
  for (const std::string& method : MethodsForMembers()) {
    const absl::Status status = Call(foreign, method);
    // The handshake ends before a call begins: no certificate of this server's authority.
    EXPECT_FALSE(status.ok()) << method;
    EXPECT_FALSE(status.message().empty()) << method;
  }
  EXPECT_EQ(Arrivals(), arrivals);
}

TEST_F(MembershipTest, AMembersCallsAreAnsweredAllTheSame) {
  RevokeTomas();
  for (const std::string& method : MethodsForMembers()) {
    const absl::Status status = Call(mira_.credentials(), method);
    EXPECT_NE(status.code(), absl::StatusCode::kPermissionDenied) << method << ": " << status;
    EXPECT_NE(status.code(), absl::StatusCode::kUnauthenticated) << method << ": " << status;
  }
}

TEST_F(MembershipTest, AnOpenStreamEndsWithTheArrivalOfTheRevocation) {
  std::promise<absl::Status> ended;
  const std::jthread follower([&](std::stop_token stop) {
    sync::Options options;
    options.mode = sync::Mode::kFollow;
    options.stop = std::move(stop);
    options.now_ms = device::SystemClock().NowMillis();
    ended.set_value(tomas_.Sync(options).status());
  });
  ASSERT_TRUE(Eventually([&] { return server_.log().find("stream_opened") != std::string::npos; }));
  const std::uint64_t seen = tomas_.applied();
  RevokeTomas();
  std::future<absl::Status> end = ended.get_future();
  ASSERT_EQ(end.wait_for(std::chrono::seconds(10)), std::future_status::ready);
  const absl::Status status = end.get();
  EXPECT_EQ(status.code(), absl::StatusCode::kPermissionDenied) << status;
  EXPECT_EQ(ReasonOf(status), "DEVICE_REVOKED");
  EXPECT_NE(status.message().find("stolen"), std::string_view::npos) << status;
  EXPECT_LE(tomas_.applied(), std::max<std::uint64_t>(seen, 4)) << "nothing after it was sent";
}

TEST_F(MembershipTest, ARevokedDeviceNeitherPushesNorRenewsNorJoinsAgain) {
  RevokeTomas();
  const std::uint64_t arrivals = Arrivals();
  tomas_.CommitGroups(3);
  EXPECT_EQ(ReasonOf(tomas_.Sync().status()), "DEVICE_REVOKED");
  const device::SecretKey tls_key = device::SecretKey::Generate();
  EXPECT_EQ(
      ReasonOf(sync::Renew(tomas_.credentials(), tomas_.key(), tls_key.public_key(), {}).status()),
      "DEVICE_REVOKED");
  EXPECT_EQ(Arrivals(), arrivals);
}

// A member who delivers for another device.
class Carrier final : public sync::Target {
 public:
  Carrier(Member& member, const Member& author, std::vector<facts::SignedCommit> mail)
      : member_(member), author_(author.chain()), mail_(std::move(mail)) {}

  Hash cooperative() const override { return member_.cooperative(); }
  std::uint32_t incarnation() const override { return 1; }
  std::optional<DeviceId> device() const override { return author_.device; }
  facts::LogPoint point() const override { return member_.point(); }
  absl::Status Apply(facts::Range range) override { return member_.Apply(std::move(range)); }
  absl::StatusOr<std::vector<facts::SignedCommit>> Undelivered(
      const facts::ChainHead& server_head) override {
    std::vector<facts::SignedCommit> run;
    for (const facts::SignedCommit& one : mail_) {
      if (facts::ParseCommit(one.bytes)->header.seq > server_head.seq) run.push_back(one);
    }
    return run;
  }
  absl::Status KeepHead(const sync::Head& head) override { return member_.KeepHead(head); }

 private:
  Member& member_;
  facts::ChainId author_;
  std::vector<facts::SignedCommit> mail_;
};

TEST_F(MembershipTest, MailOfARevokedDeviceIsTakenUpToItsCutOnly) {
  tomas_.CommitGroups(2);
  const std::vector<facts::SignedCommit> mail = tomas_.pending();
  RevokeTomas({Sha256(mail[0].bytes)});
  sync::Options options;
  options.now_ms = device::SystemClock().NowMillis();
  Carrier both(mira_, tomas_, mail);
  EXPECT_EQ(ReasonOf(sync::RunSession(mira_.credentials(), both, options).status()),
            "DEVICE_REVOKED");
  const std::uint64_t arrivals = Arrivals();
  Carrier first(mira_, tomas_, {mail[0]});
  const auto sent = sync::RunSession(mira_.credentials(), first, options);
  ASSERT_TRUE(sent.ok()) << sent.status();
  EXPECT_EQ(Arrivals(), arrivals + 1);
}

TEST_F(MembershipTest, AFurtherDeviceOfAKeeperIsInByItsCode) {
  const FurtherDevice field = EnterFurtherDevice(tomas_);
  const absl::Status status = Call(field.credentials, "/broodpact.v1.LogService/GetHead");
  EXPECT_TRUE(status.ok()) << status;
}

}  // namespace
}  // namespace broodpact::server
