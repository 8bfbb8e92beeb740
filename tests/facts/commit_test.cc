// Goal: what is written is what is read, and the form of a commit never changes. Method: laws over
// statements of every kind, and one commit whose bytes and hash are fixed here for good.

#include "client/facts/commit.h"

#include <string>
#include <thread>
#include <variant>
#include <vector>

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "client/base/status.h"
#include "client/device/key.h"
#include "tests/facts/any_statement.h"

namespace broodpact::facts {
namespace {

rc::Gen<CommitHeader> AnyHeader() {
  return rc::gen::exec([] {
    CommitHeader header;
    header.cooperative = *AnyBytes<Hash>();
    header.device = *AnyIdOf<DeviceId>();
    header.incarnation = *rc::gen::element<std::uint32_t>(1, 2, UINT32_MAX);
    header.seq = *rc::gen::element<std::uint64_t>(1, 2, UINT64_MAX);
    if (header.seq > 1) header.prev = *AnyBytes<Hash>();
    header.seen.arrivals = *rc::gen::element<std::uint64_t>(0, 1, UINT64_MAX);
    if (header.seen.arrivals > 0) header.seen.log_hash = *AnyBytes<IdBytes>();
    header.clock_ms = *rc::gen::arbitrary<std::int64_t>();
    return header;
  });
}

RC_GTEST_PROP(Commit, ReadsBackAsItWasBuilt, ()) {
  const CommitHeader header = *AnyHeader();
  std::vector<Statement> statements;
  const auto count = *rc::gen::inRange(1, 4);
  for (int i = 0; i < count; ++i) statements.push_back(*AnyStatement());
  const std::string bytes = BuildCommit(header, statements);
  const auto commit = ParseCommit(bytes);
  RC_ASSERT(commit.ok());
  RC_ASSERT(commit->hash == Sha256(bytes));
  RC_ASSERT(commit->header == header);
  RC_ASSERT(commit->statements == statements);
}

// The law above draws a kind in 26 cases; here none is left out.
TEST(Commit, ReadsBackEveryKind) {
  for (std::size_t kind = 1; kind < std::variant_size_v<StatementKinds>; ++kind) {
    EXPECT_TRUE(rc::check([kind] {
      const Statement statement = *AnyStatementOfKind(kind);
      RC_ASSERT(statement.index() == kind);
      const auto commit = ParseCommit(BuildCommit(*AnyHeader(), {statement}));
      RC_ASSERT(commit.ok());
      RC_ASSERT(commit->statements.front() == statement);
    })) << kind;
  }
}

// A commit as keepers wrote it on the first day. If this test fails, old commits are not readable
// any more, or new ones have another form: change the code, and not these bytes.
TEST(Commit, OfTheFirstDayHasItsBytesAndHashForGood) {
  CommitHeader header = {.incarnation = 1, .seq = 2, .clock_ms = 1'795'599'000'000};
  header.cooperative.fill(0xc0);
  header.device.bytes.fill(0xde);
  header.prev.fill(0x9e);
  header.seen = {.arrivals = 300};
  header.seen.log_hash.fill(0x5e);
  Pairing pairing = {.day = ParseDaySpan("2026-11-20/2026-11-25~").value(),
                     .outcome = PairingOutcome::kInsertionSeen};
  pairing.pairing.bytes.fill(1);
  pairing.male.bytes.fill(2);
  pairing.female.bytes.fill(3);
  pairing.loan.bytes.fill(4);
  const std::string bytes = BuildCommit(header, {pairing});
  EXPECT_EQ(BytesToHex(bytes),
            "0a20c0c0c0c0c0c0c0c0c0c0c0c0c0c0c0c0c0c0c0c0c0c0c0c0c0c0c0c0c0c0c0c01210dededede"
            "dededededededededededede180120022a209e9e9e9e9e9e9e9e9e9e9e9e9e9e9e9e9e9e9e9e9e9e"
            "9e9e9e9e9e9e9e9e9e9e30ac023a105e5e5e5e5e5e5e5e5e5e5e5e5e5e5e5e40c0c3a990a1344a59"
            "c202560a10010101010101010101010101010101011210020202020202020202020202020202021a"
            "1003030303030303030303030303030303220a08d2c40210dcc40218022801321004040404040404"
            "040404040404040404");
  const Commit commit = ParseCommit(bytes).value();
  EXPECT_EQ(ToHex(commit.hash), "5e0f26874d3fdab05a948cf1621570bfb6c33daa058346fd52aad4435c1acc52");
  EXPECT_EQ(commit.header, header);
  EXPECT_EQ(commit.statements, std::vector<Statement>{pairing});
}

TEST(Commit, IsReadAlikeInManyThreads) {
  Moult moult = {.moult_count = 3};
  moult.animal.bytes.fill(1);
  CommitHeader header;
  header.cooperative.fill(1);
  header.device.bytes.fill(2);
  const std::string bytes = BuildCommit(header, std::vector<Statement>(kStatementsMax, moult));
  std::vector<int> wrong(4, 0);
  std::vector<std::thread> threads;
  threads.reserve(wrong.size());
  for (int& count : wrong) {
    threads.emplace_back([&count, &bytes, &moult] {
      for (int i = 0; i < 100; ++i) {
        const auto commit = ParseCommit(bytes);
        count += commit.ok() && commit->statements.back() == Statement(moult) ? 0 : 1;
        count += ParseCommit(bytes.substr(1)).ok() ? 1 : 0;
      }
    });
  }
  for (std::thread& thread : threads) thread.join();
  EXPECT_EQ(wrong, std::vector<int>(4, 0));
}

TEST(Commit, IsSpentByTheFirstHalfOfItsHash) {
  const Commit commit = {.hash = Sha256("a commit")};
  EXPECT_EQ(commit.token(), FirstHalf<Token>(Sha256("a commit")));
}

TEST(Commit, IsSignedWithItsPurpose) {
  const Hash hash = Sha256("a commit");
  EXPECT_EQ(SignedMessage(hash),
            std::string("broodpact commit v1") + '\0' + std::string(ViewOf(hash)));
  const auto key = device::SecretKey::OfSeed(std::string(32, 'k'));
  const Signature signature = SignCommit(key, hash);
  EXPECT_TRUE(VerifyCommit(key.public_key(), hash, signature));
  EXPECT_FALSE(VerifyCommit(key.public_key(), Sha256("another"), signature));
  EXPECT_FALSE(VerifyCommit(key.public_key(), hash, key.Sign(ViewOf(hash))));
}

}  // namespace
}  // namespace broodpact::facts
