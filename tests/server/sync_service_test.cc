// Goal: what one member records reaches the log once and all others from there; whatever is wrong
// with a push or a place in the log is refused with its reason, and nothing of it stays. Method: a
// real server, members with replicas, and a raw stream for what no client of ours would send.

#include "server/sync_service.h"

#include <atomic>
#include <chrono>
#include <thread>

#include <grpcpp/grpcpp.h>
#include <gtest/gtest.h>

#include "broodpact/v1/sync_service.grpc.pb.h"
#include "client/base/status.h"
#include "tests/server/trial_server.h"

namespace broodpact::server {
namespace {

// A stream by hand: says what it is told, and keeps what it hears.
class RawStream {
 public:
  explicit RawStream(const sync::Credentials& credentials)
      : credentials_(credentials),
        channel_(*sync::Connect(credentials, device::SystemClock().NowMillis())),
        stub_(v1::SyncService::NewStub(channel_)),
        stream_(stub_->Sync(&context_)) {}
  ~RawStream() { context_.TryCancel(); }
  RawStream(const RawStream&) = delete;
  RawStream& operator=(const RawStream&) = delete;

  bool Hello(const Member& member) {
    v1::SyncRequest request;
    request.mutable_hello()->set_cooperative_id(std::string(ViewOf(member.cooperative())));
    request.mutable_hello()->set_arrivals(member.point().arrivals);
    request.mutable_hello()->set_log_hash(std::string(ViewOf(member.point().log_hash)));
    request.mutable_hello()->set_incarnation(1);
    return stream_->Write(request);
  }

  bool Push(const std::vector<facts::SignedCommit>& run) {
    v1::SyncRequest request;
    for (const facts::SignedCommit& commit : run) request.mutable_push()->add_commits(commit.bytes);
    request.mutable_push()->set_signature(std::string(ViewOf(run.back().signature)));
    return stream_->Write(request);
  }

  bool Say(const v1::SyncRequest& request) { return stream_->Write(request); }

  void Cancel() { context_.TryCancel(); }

  // Reads until a receipt.
  std::uint64_t AwaitReceipt() {
    v1::SyncResponse response;
    while (stream_->Read(&response)) {
      if (response.has_push_receipt()) return response.push_receipt().chain_seq();
    }
    return 0;
  }

  // Reads to the end of the stream.
  absl::Status AwaitEnd() {
    v1::SyncResponse response;
    while (stream_->Read(&response)) {
    }
    return sync::FromGrpc(stream_->Finish(), context_, credentials_.address);
  }

 private:
  sync::Credentials credentials_;
  grpc::ClientContext context_;
  std::shared_ptr<grpc::Channel> channel_;
  std::unique_ptr<v1::SyncService::Stub> stub_;
  std::unique_ptr<grpc::ClientReaderWriter<v1::SyncRequest, v1::SyncResponse>> stream_;
};

class SyncServiceTest : public Cooperative {
 protected:
  SyncServiceTest() { EXPECT_TRUE(tomas_.Sync().ok()); }

  // What the server says to a run of tomas.
  absl::Status Refusal(const std::vector<facts::SignedCommit>& run) {
    RawStream stream(tomas_.credentials());
    stream.Hello(tomas_);
    stream.Push(run);
    return stream.AwaitEnd();
  }

  std::uint64_t Arrivals() {
    EXPECT_TRUE(mira_.Sync().ok());
    return mira_.point().arrivals;
  }
};

TEST_F(SyncServiceTest, BringsManyCommitsToAllMembers) {
  mira_.CommitGroups(3'000);
  tomas_.CommitGroups(1'000);
  const auto pushed = mira_.Sync();
  ASSERT_TRUE(pushed.ok()) << pushed.status();
  EXPECT_EQ(pushed->commits_sent, 3'000U);
  ASSERT_TRUE(tomas_.Sync().ok());
  ASSERT_TRUE(mira_.Sync().ok());
  EXPECT_EQ(mira_.point().arrivals, 4'003U);
  EXPECT_EQ(mira_.point(), tomas_.point());
  EXPECT_EQ(*mira_.store().StateDigest(), *tomas_.store().StateDigest());
  EXPECT_TRUE(mira_.pending().empty());
  ASSERT_TRUE(mira_.head().has_value());
  EXPECT_EQ(mira_.head()->point, mira_.point());
}

TEST_F(SyncServiceTest, IsNotHeldUpByAClientThatSendsForEverAndNeverReads) {
  mira_.CommitGroups(3'000);
  ASSERT_TRUE(mira_.Sync().ok());
  tomas_.CommitGroups(1);
  RawStream stream(tomas_.credentials());
  ASSERT_TRUE(stream.Hello(tomas_));
  const std::vector<facts::SignedCommit> run = tomas_.pending();
  std::atomic<int> sent = 0;
  std::jthread flood([&] {
    while (stream.Push(run)) ++sent;
  });
  while (sent == 0) std::this_thread::yield();
  mira_.CommitGroups(1'000);
  EXPECT_TRUE(mira_.Sync().ok());
  EXPECT_EQ(mira_.point().arrivals, 4'004U) << "its one commit arrived once";
  stream.Cancel();
}

TEST_F(SyncServiceTest, IsWholeWhenOwnCommitsHaveComeBackInTheLog) {
  // Whether the receipt or the log is heard first is for the threads to say: often enough, each.
  for (int i = 0; i < 20; ++i) {
    tomas_.CommitGroups(3);
    const std::uint64_t before = tomas_.point().arrivals;
    ASSERT_TRUE(tomas_.Sync().ok());
    EXPECT_TRUE(tomas_.pending().empty());
    EXPECT_EQ(tomas_.point().arrivals, before + 3);
  }
}

TEST_F(SyncServiceTest, TakesTheSameCommitsOnce) {
  tomas_.CommitGroups(5);
  const std::vector<facts::SignedCommit> run = tomas_.pending();
  RawStream stream(tomas_.credentials());
  stream.Hello(tomas_);
  for (int i = 0; i < 3; ++i) {
    ASSERT_TRUE(stream.Push(run));
    EXPECT_EQ(stream.AwaitReceipt(), 6U);
  }
  // One that overlaps brings what is new in it.
  tomas_.CommitGroups(2);
  ASSERT_TRUE(stream.Push(tomas_.pending()));
  EXPECT_EQ(stream.AwaitReceipt(), 8U);
  EXPECT_EQ(Arrivals(), 3U + 7U);
}

TEST_F(SyncServiceTest, RefusesABadSignature) {
  tomas_.CommitGroups(2);
  std::vector<facts::SignedCommit> run = tomas_.pending();
  run.back().signature[0] ^= 1U;
  const absl::Status status = Refusal(run);
  EXPECT_EQ(status.code(), absl::StatusCode::kInvalidArgument);
  EXPECT_EQ(ReasonOf(status), "SIGNATURE_BAD");
  EXPECT_EQ(Arrivals(), 3U);
}

TEST_F(SyncServiceTest, RefusesAHole) {
  tomas_.CommitGroups(3);
  const absl::Status status = Refusal({tomas_.pending()[1], tomas_.pending()[2]});
  EXPECT_EQ(status.code(), absl::StatusCode::kFailedPrecondition);
  EXPECT_EQ(ReasonOf(status), "CHAIN_HOLE");
  EXPECT_EQ(ReasonOf(Refusal({tomas_.pending()[0], tomas_.pending()[2]})), "CHAIN_HOLE");
  EXPECT_EQ(Arrivals(), 3U);
}

TEST_F(SyncServiceTest, RefusesAFork) {
  tomas_.CommitGroups(2);
  ASSERT_TRUE(tomas_.Sync().ok());
  // A copy of the folder, from before, writes something else at the same place.
  for (const std::uint64_t seq : {2U, 3U}) {
    const facts::CommitHeader header{.cooperative = tomas_.cooperative(),
                                     .device = tomas_.chain().device,
                                     .seq = seq,
                                     .prev = Sha256("another"),
                                     .clock_ms = 1};
    const auto id = device::FreshId<GroupId>(device::SystemRandomness());
    facts::SignedCommit forked{
        .bytes = facts::BuildCommit(
            header,
            {facts::GroupEntry{.group = id, .name = "fork", .taxon = "Brachypelma hamorii"}})};
    forked.signature = facts::SignCommit(tomas_.key(), Sha256(forked.bytes));
    EXPECT_EQ(ReasonOf(Refusal({forked})), "CHAIN_FORK") << seq;
  }
  EXPECT_EQ(Arrivals(), 5U);
}

TEST_F(SyncServiceTest, RefusesAnotherDevicesCommits) {
  mira_.CommitGroups(1);
  EXPECT_EQ(ReasonOf(Refusal(mira_.pending())), "DEVICE_OTHER");
}

TEST_F(SyncServiceTest, RefusesMoreThanAPushMayHold) {
  tomas_.CommitGroups(static_cast<int>(sync::kPushCommitsMax) + 1);
  const absl::Status status = Refusal(tomas_.pending());
  EXPECT_EQ(status.code(), absl::StatusCode::kResourceExhausted);
  EXPECT_EQ(ReasonOf(status), "CHUNK_TOO_LARGE");
}

TEST_F(SyncServiceTest, RefusesWhatIsNoCommit) {
  EXPECT_EQ(ReasonOf(Refusal({facts::SignedCommit{.bytes = "no commit"}})), "COMMIT_FORM");
}

TEST_F(SyncServiceTest, RefusesAPushBeforeTheHelloAndASecondHello) {
  tomas_.CommitGroups(1);
  RawStream early(tomas_.credentials());
  early.Push(tomas_.pending());
  EXPECT_EQ(ReasonOf(early.AwaitEnd()), "HELLO_MISSING");
  RawStream twice(tomas_.credentials());
  twice.Hello(tomas_);
  twice.Hello(tomas_);
  EXPECT_EQ(ReasonOf(twice.AwaitEnd()), "HELLO_MISSING");
}

TEST_F(SyncServiceTest, RefusesAClientOfAnotherLog) {
  v1::SyncRequest request;
  v1::Hello& hello = *request.mutable_hello();
  hello.set_cooperative_id(std::string(ViewOf(tomas_.cooperative())));
  hello.set_incarnation(1);
  for (const std::uint64_t arrivals : {1U, 2U, 3U, 4U, 4'000'000'000U}) {
    hello.set_arrivals(arrivals);
    hello.set_log_hash(std::string(32, 'x'));
    RawStream stream(tomas_.credentials());
    stream.Say(request);
    const absl::Status status = stream.AwaitEnd();
    EXPECT_EQ(status.code(), absl::StatusCode::kFailedPrecondition) << arrivals;
    EXPECT_EQ(ReasonOf(status), "LOG_OTHER") << arrivals;
  }
}

TEST_F(SyncServiceTest, RefusesAnotherCooperative) {
  v1::SyncRequest request;
  request.mutable_hello()->set_cooperative_id(std::string(32, 'x'));
  RawStream stream(tomas_.credentials());
  stream.Say(request);
  EXPECT_EQ(ReasonOf(stream.AwaitEnd()), "COOPERATIVE_OTHER");
}

TEST_F(SyncServiceTest, RefusesACallerWithoutACertificate) {
  sync::Credentials nobody = tomas_.credentials();
  nobody.certificate_pem.clear();
  nobody.key_pem.clear();
  RawStream stream(nobody);
  stream.Hello(tomas_);
  const absl::Status status = stream.AwaitEnd();
  EXPECT_EQ(status.code(), absl::StatusCode::kUnauthenticated);
  EXPECT_EQ(ReasonOf(status), "NO_CERTIFICATE");
}

TEST_F(SyncServiceTest, ResumesFromAnyPlaceInTheLog) {
  // More than one place whose log hash is kept, so that a cursor lies between two of them.
  tomas_.CommitGroups(100);
  ASSERT_TRUE(tomas_.Sync().ok());
  constexpr int kMany = 700;
  mira_.CommitGroups(kMany);
  ASSERT_TRUE(mira_.Sync().ok());
  ASSERT_TRUE(tomas_.Sync().ok());
  EXPECT_EQ(tomas_.point(), mira_.point());
  Member bela("bela");
  ASSERT_TRUE(bela.Join(Invite()).ok());
  ASSERT_TRUE(bela.Sync().ok());
  EXPECT_EQ(bela.point().arrivals, 103U + kMany + 2);
}

TEST_F(SyncServiceTest, TellsAFollowerWhatArrivesAtOnce) {
  sync::Options follow;
  follow.mode = sync::Mode::kFollow;
  follow.now_ms = device::SystemClock().NowMillis();
  absl::StatusOr<sync::Progress> ended = absl::UnknownError("");
  std::jthread follower([&](const std::stop_token& stop) {
    follow.stop = stop;
    ended = tomas_.Sync(follow);
  });
  for (int i = 0; i < 20; ++i) {
    mira_.CommitGroups(1);
    ASSERT_TRUE(mira_.Sync().ok());
    const std::uint64_t arrivals = mira_.point().arrivals;
    ASSERT_TRUE(Eventually([&] { return tomas_.applied() >= arrivals; })) << i;
  }
  follower.request_stop();
  follower.join();
  EXPECT_TRUE(ended.ok()) << ended.status();
  EXPECT_EQ(tomas_.point(), mira_.point());
}

TEST_F(SyncServiceTest, TakesPushesFromManyAtATime) {
  std::vector<std::unique_ptr<Member>> members;
  for (int i = 0; i < 4; ++i) {
    members.push_back(std::make_unique<Member>("keeper" + std::to_string(i)));
    ASSERT_TRUE(members.back()->Join(Invite()).ok());
    members.back()->CommitGroups(300);
  }
  std::vector<std::jthread> threads;
  std::vector<absl::Status> ended(members.size());
  for (std::size_t i = 0; i < members.size(); ++i) {
    threads.emplace_back([&, i] { ended[i] = members[i]->Sync().status(); });
  }
  threads.clear();
  for (const absl::Status& status : ended) EXPECT_TRUE(status.ok()) << status;
  EXPECT_EQ(Arrivals(), 3U + 4 * (2 + 300));
  ASSERT_TRUE(members.front()->Sync().ok());
  EXPECT_EQ(members.front()->point(), mira_.point());
}

TEST_F(SyncServiceTest, EndsAStreamWhenTheServerStops) {
  RawStream stream(tomas_.credentials());
  stream.Hello(tomas_);
  tomas_.CommitGroups(1);
  ASSERT_TRUE(stream.Push(tomas_.pending()));
  EXPECT_EQ(stream.AwaitReceipt(), 2U);
  std::jthread stopper([&] { server_.server().Stop(); });
  const absl::Status status = stream.AwaitEnd();
  EXPECT_EQ(status.code(), absl::StatusCode::kUnavailable);
  EXPECT_EQ(ReasonOf(status), "STOPPING");
}

TEST_F(SyncServiceTest, KeepsWhatWasAcknowledgedOverARestart) {
  mira_.CommitGroups(10);
  ASSERT_TRUE(mira_.Sync().ok());
  server_.options.listen = server_.server().address();
  server_.Stop();
  server_.Start();
  ASSERT_TRUE(tomas_.Sync().ok());
  EXPECT_EQ(tomas_.point(), mira_.point());
  mira_.CommitGroups(1);
  ASSERT_TRUE(mira_.Sync().ok());
  EXPECT_EQ(mira_.point().arrivals, tomas_.point().arrivals + 1);
}

TEST_F(SyncServiceTest, EndsAStreamWhoseCertificateExpiresMeanwhile) {
  RawStream stream(tomas_.credentials());
  stream.Hello(tomas_);
  tomas_.CommitGroups(2);
  ASSERT_TRUE(stream.Push({tomas_.pending()[0]}));
  EXPECT_EQ(stream.AwaitReceipt(), 2U);
  server_.clock().Move(366 * kDay);
  stream.Push({tomas_.pending()[1]});
  EXPECT_EQ(ReasonOf(stream.AwaitEnd()), "CERTIFICATE_EXPIRED");
}

}  // namespace
}  // namespace broodpact::server
