// Goal: only a well-formed, dense run of the sender's own chain passes the door, and what is wrong
// is said in a fixed order. Method: a chain made by hand and spoilt in one way at a time; a law
// over spoilt bytes.

#include "server/door.h"

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "client/base/status.h"
#include "client/sync/session.h"
#include "tests/facts/any_chain.h"

namespace broodpact::server {
namespace {

// A run of `count` moults by device 1, in the cooperative "c".
struct Sent {
  std::vector<std::string> commits;
  Signature signature{};
  Sender sender;

  std::string_view signature_bytes() const { return ViewOf(signature); }
};

Sent RunOf(std::uint32_t count) {
  facts::Author author(1, Sha256("c"));
  Sent sent;
  for (std::uint32_t i = 0; i < count; ++i) {
    sent.commits.push_back(author.Write({facts::AnyMoult(i)}));
  }
  sent.signature = author.Sign();
  sent.sender = {.cooperative = Sha256("c"),
                 .device = DeviceOf(author.public_key()),
                 .key = author.public_key()};
  return sent;
}

std::string ReasonFor(const Sent& sent) {
  return ReasonOf(CheckRun(sent.commits, sent.signature_bytes(), sent.sender).status());
}

TEST(Door, LetsAGoodRunIn) {
  const Sent sent = RunOf(3);
  const auto run = CheckRun(sent.commits, sent.signature_bytes(), sent.sender);
  ASSERT_TRUE(run.ok()) << run.status();
  EXPECT_EQ(run->commits.size(), 3U);
  EXPECT_EQ(run->bytes, sent.commits);
  EXPECT_EQ(run->chain.device, sent.sender.device);
}

TEST(Door, RefusesAnEmptyPush) {
  EXPECT_EQ(ReasonFor(RunOf(0)), "COMMIT_FORM");
}

TEST(Door, RefusesTooMuchBeforeItReads) {
  Sent sent = RunOf(1);
  sent.commits.assign(sync::kPushCommitsMax + 1, "no commit");
  EXPECT_EQ(ReasonFor(sent), "CHUNK_TOO_LARGE");
  sent.commits.assign(5, std::string(sync::kPushBytesMax / 4, 'x'));
  EXPECT_EQ(ReasonFor(sent), "CHUNK_TOO_LARGE");
}

TEST(Door, RefusesAnotherSendersRun) {
  Sent sent = RunOf(2);
  sent.sender.device.bytes[0] ^= 1U;
  EXPECT_EQ(ReasonFor(sent), "DEVICE_OTHER");
}

TEST(Door, RefusesAnotherCooperativesRun) {
  Sent sent = RunOf(2);
  sent.sender.cooperative = Sha256("d");
  EXPECT_EQ(ReasonFor(sent), "COOPERATIVE_OTHER");
}

TEST(Door, RefusesAHoleInTheRun) {
  Sent sent = RunOf(3);
  sent.commits.erase(sent.commits.begin() + 1);
  EXPECT_EQ(ReasonFor(sent), "CHAIN_HOLE");
}

TEST(Door, RefusesACommitTwice) {
  Sent sent = RunOf(2);
  sent.commits.push_back(sent.commits.back());
  EXPECT_EQ(ReasonFor(sent), "CHAIN_FORK");
}

TEST(Door, RefusesASignatureOfAnotherCommitOrAnotherLength) {
  Sent sent = RunOf(3);
  sent.commits.pop_back();
  EXPECT_EQ(ReasonFor(sent), "SIGNATURE_BAD");
  const Sent good = RunOf(3);
  EXPECT_EQ(ReasonOf(CheckRun(good.commits, "short", good.sender).status()), "SIGNATURE_BAD");
}

RC_GTEST_PROP(Door, LetsNoSpoiltRunIn, ()) {
  Sent sent = RunOf(4);
  std::string& spoilt = sent.commits[*rc::gen::inRange<std::size_t>(0, 4)];
  const auto at = *rc::gen::inRange<std::size_t>(0, spoilt.size());
  const char other = *rc::gen::arbitrary<char>();
  RC_PRE(spoilt[at] != other);
  spoilt[at] = other;
  RC_ASSERT(!CheckRun(sent.commits, sent.signature_bytes(), sent.sender).ok());
}

TEST(Door, KnowsAFoundingCommit) {
  const facts::TrialLog log = facts::LogOfTwo(1);
  const auto run = CheckFounding(log.commits[0], ViewOf(*log.signatures[0]));
  ASSERT_TRUE(run.ok()) << run.status();
  EXPECT_EQ(run->commits.front().hash, log.cooperative);
  EXPECT_EQ(ReasonOf(CheckFounding(log.commits[1], ViewOf(*log.signatures[1])).status()),
            "FOUNDING_FORM");
  EXPECT_EQ(ReasonOf(CheckFounding(log.commits[0], ViewOf(*log.signatures[1])).status()),
            "SIGNATURE_BAD");
}

TEST(Door, KnowsAJoiningByItsInvitationsSignature) {
  const facts::TrialLog log = facts::LogOfTwo(0);
  // The log's joining has a made-up invitation, so it fails at the very last check.
  EXPECT_EQ(
      ReasonOf(CheckJoining(log.commits[1], ViewOf(*log.signatures[1]), log.cooperative).status()),
      "SIGNATURE_BAD");
  EXPECT_EQ(
      ReasonOf(CheckJoining(log.commits[0], ViewOf(*log.signatures[0]), log.cooperative).status()),
      "JOINING_FORM");
  EXPECT_EQ(
      ReasonOf(CheckJoining(log.commits[1], ViewOf(*log.signatures[1]), Sha256("d")).status()),
      "COOPERATIVE_OTHER");
}

}  // namespace
}  // namespace broodpact::server
