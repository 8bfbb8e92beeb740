// Goal: a member gets proofs of the log that hold, and nobody else gets any. Method: a real server
// and the client's own way of asking.

#include "server/log_service.h"

#include <utility>

#include <grpcpp/grpcpp.h>
#include <gtest/gtest.h>

#include "broodpact/v1/log_service.grpc.pb.h"
#include "client/base/status.h"
#include "client/sync/log_proofs.h"
#include "tests/server/trial_server.h"

namespace broodpact::server {
namespace {

// A member that has kept a head of before.
class Remembering final : public sync::Target {
 public:
  Remembering(Member& member, const sync::Head& last) : member_(member), last_(last) {}

  Hash cooperative() const override { return member_.cooperative(); }
  std::uint32_t incarnation() const override { return member_.incarnation(); }
  facts::LogPoint point() const override { return member_.point(); }
  absl::Status Apply(facts::Range range) override { return member_.Apply(std::move(range)); }
  absl::StatusOr<std::vector<facts::SignedCommit>> Undelivered(
      const facts::ChainHead& server_head) override {
    return member_.Undelivered(server_head);
  }
  absl::Status KeepHead(const sync::Head& head) override { return member_.KeepHead(head); }
  std::optional<sync::Head> LastHead() const override { return last_; }

 private:
  Member& member_;
  sync::Head last_;
};

class LogServiceTest : public Cooperative {
 protected:
  LogServiceTest() {
    mira_.CommitGroups(600);
    EXPECT_TRUE(mira_.Sync().ok());
  }

  sync::Head FetchHead() {
    const auto head = sync::FetchHead(mira_.credentials(), mira_.cooperative(), NowMillis());
    EXPECT_TRUE(head.ok()) << head.status();
    return *head;
  }

  absl::Status Growth(const sync::Head& first, const sync::Head& second) {
    return sync::CheckGrowth(*sync::Connect(mira_.credentials(), NowMillis()), first, second);
  }

  static std::int64_t NowMillis() { return device::SystemClock().NowMillis(); }
};

TEST_F(LogServiceTest, SignsTheRootThatTheLogHas) {
  const sync::Head head = FetchHead();
  EXPECT_EQ(head.point, mira_.point());
  EXPECT_EQ(head.tree_root, *mira_.store().TreeRootAt(head.point.arrivals));
}

TEST_F(LogServiceTest, ProvesThatTheLogHasOnlyGrown) {
  const sync::Head first = FetchHead();
  mira_.CommitGroups(300);
  ASSERT_TRUE(mira_.Sync().ok());
  const sync::Head second = FetchHead();
  EXPECT_TRUE(Growth(first, second).ok());
  sync::Head other = first;
  other.tree_root[0] ^= 1U;
  const absl::Status convicted = Growth(other, second);
  EXPECT_EQ(convicted.code(), absl::StatusCode::kDataLoss);
  EXPECT_EQ(ReasonOf(convicted), "PROOF_WRONG");
  // What is not of one log, or of a server that does not answer, is not compared.
  other.epoch = 2;
  EXPECT_TRUE(Growth(other, second).ok());
  sync::Head beyond = second;
  beyond.point.arrivals += 1'000;
  EXPECT_TRUE(Growth(first, beyond).ok());
}

TEST_F(LogServiceTest, IsAskedForThatProofByEverySession) {
  const sync::Head first = FetchHead();
  sync::Head other = first;
  other.tree_root[0] ^= 1U;
  for (const sync::Head& last : {first, other}) {
    mira_.CommitGroups(1);
    Remembering target(mira_, last);
    sync::Options options;
    options.now_ms = NowMillis();
    const auto synced = sync::RunSession(mira_.credentials(), target, options);
    EXPECT_EQ(ReasonOf(synced.status()), last == other ? "PROOF_WRONG" : "");
  }
}

TEST_F(LogServiceTest, ProvesAnArrival) {
  const sync::Head head = FetchHead();
  for (const std::uint64_t arrival : {std::uint64_t{1}, std::uint64_t{257}, head.point.arrivals}) {
    const auto stored = mira_.store().ReadArrival(arrival);
    ASSERT_TRUE(stored.ok());
    const sync::InclusionClaim claim{
        .arrival = arrival, .commit = Sha256(stored->bytes), .time_ms = stored->time_ms};
    EXPECT_TRUE(sync::CheckInclusion(mira_.credentials(), claim, head, NowMillis()).ok());
    sync::InclusionClaim other = claim;
    other.commit[0] ^= 1U;
    EXPECT_EQ(ReasonOf(sync::CheckInclusion(mira_.credentials(), other, head, NowMillis())),
              "PROOF_WRONG");
  }
}

TEST_F(LogServiceTest, RefusesPlacesThatTheLogDoesNotHave) {
  const sync::Head head = FetchHead();
  EXPECT_EQ(ReasonOf(sync::CheckInclusion(mira_.credentials(), {.arrival = 0}, head, NowMillis())),
            "LEAF_INDEX");
  EXPECT_EQ(ReasonOf(sync::CheckInclusion(mira_.credentials(), {.arrival = head.point.arrivals + 1},
                                          head, NowMillis())),
            "LEAF_INDEX");
  sync::Head beyond = head;
  beyond.point.arrivals = UINT64_MAX;
  EXPECT_EQ(
      ReasonOf(sync::CheckInclusion(mira_.credentials(), {.arrival = 1}, beyond, NowMillis())),
      "TREE_SIZE");
}

TEST_F(LogServiceTest, AnswersMembersOnly) {
  sync::Credentials nobody = mira_.credentials();
  nobody.certificate_pem.clear();
  nobody.key_pem.clear();
  EXPECT_EQ(ReasonOf(sync::FetchHead(nobody, mira_.cooperative(), NowMillis()).status()),
            "NO_CERTIFICATE");
}

}  // namespace
}  // namespace broodpact::server
