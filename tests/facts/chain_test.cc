// Goal: a commit is taken where it follows, and holes and forks are told apart. Method: one chain,
// and every way in which the next commit can be wrong.

#include "client/facts/chain.h"

#include <gtest/gtest.h>

#include "client/base/status.h"

namespace broodpact::facts {
namespace {

Commit CommitAt(std::uint64_t seq, const Hash& prev) {
  return {.hash = Sha256({ViewOf(prev), std::to_string(seq)}),
          .header = {.seq = seq, .prev = prev}};
}

std::string ReasonOfNext(const ChainHead& head, std::uint64_t seq, const Hash& prev) {
  return ReasonOf(CheckFollows(head, CommitAt(seq, prev)));
}

const Hash kBefore = Sha256("the commit before");

TEST(Chain, BeginsWithACommitThatFollowsOnNone) {
  EXPECT_EQ(ReasonOfNext({}, 1, {}), "");
  EXPECT_EQ(ReasonOfNext({}, 1, kBefore), "CHAIN_FORK");
  EXPECT_EQ(ReasonOfNext({}, 2, kBefore), "CHAIN_HOLE");
}

TEST(Chain, GoesOnWithTheNextPlaceAndTheHashBefore) {
  const ChainHead head = {.seq = 4, .hash = kBefore};
  EXPECT_EQ(ReasonOfNext(head, 5, kBefore), "");
  EXPECT_EQ(ReasonOfNext(head, 5, Sha256("another")), "CHAIN_FORK");
  EXPECT_EQ(ReasonOfNext(head, 5, {}), "CHAIN_HOLE");
}

TEST(Chain, HasAHoleWhereCommitsAreMissing) {
  const ChainHead head = {.seq = 4, .hash = kBefore};
  EXPECT_EQ(ReasonOfNext(head, 6, kBefore), "CHAIN_HOLE");
  EXPECT_EQ(ReasonOfNext(head, UINT64_MAX, kBefore), "CHAIN_HOLE");
}

TEST(Chain, IsForkedWhereAnotherCommitStandsAlready) {
  const ChainHead head = {.seq = 4, .hash = kBefore};
  EXPECT_EQ(ReasonOfNext(head, 4, kBefore), "CHAIN_FORK");
  EXPECT_EQ(ReasonOfNext(head, 1, {}), "CHAIN_FORK");
}

TEST(Chain, HasTheNewestCommitAsItsHead) {
  const Commit first = CommitAt(1, {});
  const ChainHead head = HeadAfter(first);
  EXPECT_EQ(head, (ChainHead{.seq = 1, .hash = first.hash}));
  EXPECT_TRUE(CheckFollows(head, CommitAt(2, first.hash)).ok());
}

TEST(Chain, IsOneOfTheLivesOfADevice) {
  CommitHeader header = {.incarnation = 3};
  header.device.bytes.back() = 1;
  EXPECT_EQ(ChainOf(header), (ChainId{.device = header.device, .incarnation = 3}));
  EXPECT_NE(ChainOf(header), (ChainId{.device = header.device, .incarnation = 1}));
}

}  // namespace
}  // namespace broodpact::facts
