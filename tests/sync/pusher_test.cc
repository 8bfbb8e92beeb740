// Goal: all own commits are sent once, in order, a few runs ahead of the acknowledgements. Method:
// a replica that holds plain numbered commits, and a wire that keeps what is sent.

#include "client/sync/pusher.h"

#include <string>
#include <vector>

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "client/base/status.h"

namespace broodpact::sync {
namespace {

constexpr std::size_t kRunSize = 3;

// Holds commits 1 .. `count`, and hands out at most three at a time.
class Numbers final : public Target {
 public:
  explicit Numbers(std::uint64_t count) : count_(count) {}

  Hash cooperative() const override { return {}; }
  std::uint32_t incarnation() const override { return 1; }
  facts::LogPoint point() const override { return {}; }
  absl::Status Apply(facts::Range /*range*/) override { return absl::OkStatus(); }
  absl::Status KeepHead(const Head& /*head*/) override { return absl::OkStatus(); }

  absl::StatusOr<std::vector<facts::SignedCommit>> Undelivered(
      const facts::ChainHead& server_head) override {
    const bool own =
        server_head.seq == 0 || server_head.hash == Sha256(std::to_string(server_head.seq));
    if (!own) return Fail(absl::StatusCode::kFailedPrecondition, "CHAIN_FORK", "not ours");
    std::vector<facts::SignedCommit> run;
    for (std::uint64_t seq = server_head.seq + 1; seq <= count_ && run.size() < kRunSize; ++seq) {
      run.push_back({.bytes = std::to_string(seq)});
    }
    return run;
  }

 private:
  std::uint64_t count_;
};

RC_GTEST_PROP(Pusher, SendsEveryCommitOnceAndInOrder, ()) {
  const auto count = *rc::gen::inRange<std::uint64_t>(0, 40);
  const auto begin = *rc::gen::inRange<std::uint64_t>(0, count + 1);
  Numbers numbers(count);
  std::vector<std::string> sent;
  std::vector<std::uint64_t> last_seqs;
  Pusher pusher(numbers, [&](const std::vector<facts::SignedCommit>& run) {
    for (const facts::SignedCommit& commit : run) sent.push_back(commit.bytes);
    last_seqs.push_back(std::stoull(run.back().bytes));
    return true;
  });
  RC_ASSERT(!pusher.done());
  RC_ASSERT(pusher.Begin({.seq = begin, .hash = Sha256(std::to_string(begin))}).ok());
  for (std::size_t acknowledged = 0; acknowledged < last_seqs.size();) {
    RC_ASSERT(last_seqs.size() - acknowledged <= kPushesUnacknowledgedMax);
    acknowledged += *rc::gen::inRange<std::size_t>(1, last_seqs.size() - acknowledged + 1);
    RC_ASSERT(pusher.Acknowledge(last_seqs[acknowledged - 1]).ok());
  }
  RC_ASSERT(pusher.done());
  RC_ASSERT(pusher.commits_sent() == count - begin);
  std::vector<std::string> due;
  for (std::uint64_t seq = begin + 1; seq <= count; ++seq) due.push_back(std::to_string(seq));
  RC_ASSERT(sent == due);
}

TEST(Pusher, IsNotDoneWhileAnythingIsUnacknowledged) {
  Numbers numbers(1);
  Pusher pusher(numbers, [](const auto& /*run*/) { return true; });
  ASSERT_TRUE(pusher.Begin({}).ok());
  EXPECT_FALSE(pusher.done());
  ASSERT_TRUE(pusher.Acknowledge(1).ok());
  EXPECT_TRUE(pusher.done());
}

TEST(Pusher, SaysSoWhenTheServerHasAnotherChain) {
  Numbers numbers(5);
  Pusher pusher(numbers, [](const auto& /*run*/) { return true; });
  EXPECT_EQ(ReasonOf(pusher.Begin({.seq = 2, .hash = Sha256("other")})), "CHAIN_FORK");
}

TEST(Pusher, IsNeverDoneOnABrokenStream) {
  Numbers numbers(5);
  Pusher pusher(numbers, [](const auto& /*run*/) { return false; });
  ASSERT_TRUE(pusher.Begin({}).ok());
  EXPECT_FALSE(pusher.done());
}

}  // namespace
}  // namespace broodpact::sync
