// Goal: a server's answer comes out as the status that it was, and nothing that a hostile server
// sends reaches the screen unchecked. Method: a server in this process that answers what it is
// told.

#include "client/sync/connection.h"

#include <memory>
#include <mutex>
#include <string>
#include <utility>

#include <grpcpp/grpcpp.h>
#include <gtest/gtest.h>

#include "broodpact/v1/joining_service.grpc.pb.h"
#include "client/base/status.h"

namespace broodpact::sync {
namespace {

class Teller final : public v1::JoiningService::Service {
 public:
  grpc::Status Challenge(grpc::ServerContext* context, const v1::ChallengeRequest* /*request*/,
                         v1::ChallengeResponse* /*response*/) override {
    const std::lock_guard lock(mutex_);
    if (!reason_.empty()) context->AddTrailingMetadata("broodpact-reason", reason_);
    return status_;
  }

  // What it answers from here on.
  void Answer(grpc::Status status, const std::string& reason) {
    const std::lock_guard lock(mutex_);
    status_ = std::move(status);
    reason_ = reason;
  }

 private:
  std::mutex mutex_;
  grpc::Status status_;  // guarded by mutex_
  std::string reason_;   // guarded by mutex_
};

class ConnectionTest : public ::testing::Test {
 protected:
  ConnectionTest() {
    int port = 0;
    grpc::ServerBuilder builder;
    builder.AddListeningPort("127.0.0.1:0", grpc::InsecureServerCredentials(), &port);
    builder.RegisterService(&teller_);
    server_ = builder.BuildAndStart();
    address_ = "127.0.0.1:" + std::to_string(port);
  }

  // What the client makes of an answer.
  absl::Status Told(grpc::StatusCode code, const std::string& message, const std::string& reason) {
    teller_.Answer(grpc::Status(code, message), reason);
    return Ask(address_);
  }

  static absl::Status Ask(const std::string& address) {
    const auto stub = v1::JoiningService::NewStub(
        grpc::CreateChannel(address, grpc::InsecureChannelCredentials()));
    grpc::ClientContext context;
    v1::ChallengeResponse response;
    const grpc::Status status = stub->Challenge(&context, {}, &response);
    return FromGrpc(status, context, address);
  }

  Teller teller_;
  std::unique_ptr<grpc::Server> server_;
  std::string address_;
};

TEST_F(ConnectionTest, SuccessIsSuccess) {
  EXPECT_TRUE(Told(grpc::StatusCode::OK, "", "").ok());
}

TEST_F(ConnectionTest, AnErrorKeepsCodeReasonAndMessage) {
  const absl::Status status =
      Told(grpc::StatusCode::FAILED_PRECONDITION, "commits are missing", "CHAIN_HOLE");
  EXPECT_EQ(status.code(), absl::StatusCode::kFailedPrecondition);
  EXPECT_EQ(ReasonOf(status), "CHAIN_HOLE");
  EXPECT_EQ(std::string(status.message()), "commits are missing");
}

TEST_F(ConnectionTest, UnavailableWithAReasonIsNoServerThatIsAway) {
  EXPECT_EQ(ReasonOf(Told(grpc::StatusCode::UNAVAILABLE, "stopping", "STOPPING")), "STOPPING");
}

TEST_F(ConnectionTest, AServerThatIsAwaySaysSoAndWhere) {
  server_->Shutdown();
  server_->Wait();
  const absl::Status status = Ask(address_);
  EXPECT_EQ(status.code(), absl::StatusCode::kUnavailable);
  EXPECT_EQ(ReasonOf(status), "SERVER_AWAY");
  EXPECT_NE(std::string(status.message()).find(address_), std::string::npos);
}

TEST_F(ConnectionTest, AReasonThatIsNoneIsNotPassedOn) {
  for (const std::string& reason :
       {std::string("lower_case"), std::string("WITH SPACE"), std::string(64, 'A')}) {
    EXPECT_EQ(ReasonOf(Told(grpc::StatusCode::INTERNAL, "x", reason)), "SERVER_ANSWER") << reason;
  }
}

TEST_F(ConnectionTest, AMessageThatCouldSteerATerminalIsNotPassedOn) {
  for (const std::string& message :
       {std::string("\x1b[2Jgone"), std::string("two\nlines"), std::string(2'000, 'x')}) {
    const absl::Status status = Told(grpc::StatusCode::NOT_FOUND, message, "UNKNOWN_SUBJECT");
    EXPECT_EQ(ReasonOf(status), "UNKNOWN_SUBJECT");
    EXPECT_EQ(std::string(status.message()), "the server gives no message that can be shown");
  }
}

TEST(Connect, SaysWhichCertificateIsDamaged) {
  EXPECT_EQ(ReasonOf(Connect({.address = "127.0.0.1:1", .authority_pem = "no PEM"}, 0).status()),
            "CERTIFICATE_DAMAGED");
}

}  // namespace
}  // namespace broodpact::sync
