// Goal: what lost its place in a fork counts once, as it was said, and only if its own device says
// it again. Method: a cooperative in memory; the commits that are stated again are real bytes with
// real signatures.

#include <memory>

#include "gtest/gtest.h"

#include "client/device/key.h"
#include "client/facts/commit.h"
#include "tests/registry/world.h"

namespace broodpact::registry {
namespace {

class Restatements : public testing::Test {
 protected:
  // What tomas wrote in his first life, at a place that another commit has.
  facts::Restatement Lost(const std::vector<facts::Statement>& statements, std::uint64_t seq = 9) {
    facts::CommitHeader header{.cooperative = world_.cooperative,
                               .device = world_.tomas.device,
                               .seq = seq,
                               .prev = Sha256("the one before")};
    return Signed(facts::BuildCommit(header, statements));
  }

  facts::Restatement Signed(const std::string& bytes) {
    const auto told = facts::ParseCommit(bytes);
    EXPECT_TRUE(told.ok()) << told.status();
    return {.commit = bytes,
            .signature = facts::SignCommit(key_, told->hash),
            .told = std::make_shared<const facts::Commit>(*told)};
  }

  std::string SayInSecondLife(const Member& member, std::vector<facts::Statement> statements) {
    return world_.SayAs(member, std::move(statements),
                        [](facts::Arrived& arrived) { arrived.commit.header.incarnation = 2; });
  }

  facts::AnimalEntry Rosa() {
    return {.animal = world_.NewId<AnimalId>(), .group = world_.group, .name = "rosa"};
  }

  World world_;
  const device::SecretKey key_ = device::SecretKey::OfSeed(std::string(32, '\2'));
};

TEST_F(Restatements, CountAsWhatTheyStateAgainWithItsTokens) {
  ASSERT_EQ(world_.tomas.key, key_.public_key());
  const facts::AnimalEntry rosa = Rosa();
  const facts::Restatement entry = Lost({rosa});
  EXPECT_EQ(SayInSecondLife(world_.tomas, {entry}), "counted");
  const Animal animal = world_.animal(rosa.animal);
  EXPECT_EQ(animal.owner, world_.tomas.id);
  EXPECT_EQ(animal.owner_token, entry.told->token());
  EXPECT_EQ(animal.entry.arrival, world_.arrival());

  // What was built on it in the same branch builds on it still.
  const facts::Restatement gift = Lost({facts::Gift{.animal = rosa.animal,
                                                    .receiver = world_.bela.id,
                                                    .owner_token = entry.told->token(),
                                                    .holder_token = entry.told->token()}},
                                       10);
  EXPECT_EQ(SayInSecondLife(world_.tomas, {gift}), "counted");
  EXPECT_EQ(world_.animal(rosa.animal).owner, world_.bela.id);
}

TEST_F(Restatements, AreKeptAsTheOtherBranch) {
  const facts::Restatement lost = Lost({Rosa()});
  ASSERT_EQ(SayInSecondLife(world_.tomas, {lost}), "counted");
  const Branch* branch = world_.state().Find<Branch>(lost.told->token().bytes);
  ASSERT_NE(branch, nullptr);
  EXPECT_EQ(branch->device, world_.tomas.device);
  EXPECT_EQ(branch->incarnation, 1U);
  EXPECT_EQ(branch->seq, 9U);
  EXPECT_EQ(branch->commit, lost.told->hash);
  EXPECT_EQ(branch->entry.arrival, world_.arrival());
}

TEST_F(Restatements, CountOnceHoweverManyCopiesStateThem) {
  const AnimalId rosa = world_.Enter(world_.tomas, "rosa");
  const facts::Restatement lost = Lost({facts::Moult{.animal = rosa, .day = On("2026-05-01")}});
  ASSERT_EQ(SayInSecondLife(world_.tomas, {lost}), "counted");
  const std::uint64_t first = world_.arrival();
  EXPECT_EQ(SayInSecondLife(world_.tomas, {lost}),
            "superseded ALREADY_RESTATED by " + std::to_string(first));
  EXPECT_EQ(world_.animal(rosa).moults.size(), 1U);
}

TEST_F(Restatements, AreOfOnesOwnEarlierLife) {
  const facts::Restatement lost = Lost({Rosa()});
  EXPECT_EQ(SayInSecondLife(world_.bela, {lost}), "void DEVICE_OTHER");
  EXPECT_EQ(world_.Say(world_.tomas, {lost}), "refused LIFE_NOT_EARLIER");
  facts::Restatement forged = lost;
  forged.signature[0] = static_cast<std::uint8_t>(forged.signature[0] ^ 1U);
  EXPECT_EQ(SayInSecondLife(world_.tomas, {forged}), "void SIGNATURE_BAD");
  EXPECT_EQ(SayInSecondLife(world_.tomas, {lost, Rosa()}), "refused RESTATEMENT_NOT_ALONE");
  EXPECT_EQ(SayInSecondLife(world_.tomas, {lost}), "counted");
}

TEST_F(Restatements, AreJudgedAsWhatTheyStateAgain) {
  const AnimalId belas = world_.Enter(world_.bela, "bertha");
  EXPECT_EQ(SayInSecondLife(world_.tomas,
                            {Lost({facts::Death{.animal = belas, .day = On("2026-05-01")}})}),
            "void NOT_YOUR_ANIMAL");
  world_.Enter(world_.tomas, "rosa");
  const facts::Restatement taken = Lost({Rosa()});
  EXPECT_EQ(SayInSecondLife(world_.tomas, {taken}), "refused NAME_TAKEN");
  EXPECT_EQ(world_.state().Find<Branch>(taken.told->token().bytes), nullptr);

  const facts::CommitHeader other{.cooperative = Sha256("another"), .device = world_.tomas.device};
  EXPECT_EQ(SayInSecondLife(world_.tomas, {Signed(facts::BuildCommit(other, {Rosa()}))}),
            "void COOPERATIVE_OTHER");
}

TEST_F(Restatements, OfADeviceThatWasRevokedAreVoid) {
  const facts::AnimalEntry rosa = Rosa();
  const facts::Restatement lost = Lost({rosa});
  ASSERT_EQ(world_.Say(world_.mira, {facts::Revocation{.device = world_.tomas.device,
                                                       .incarnation = 1,
                                                       .seq = 8,
                                                       .hash = Sha256("the one before"),
                                                       .reason = "stolen"}}),
            "counted");
  const std::string revocation = std::to_string(world_.arrival());
  EXPECT_EQ(SayInSecondLife(world_.tomas, {lost}), "void DEVICE_REVOKED by " + revocation);
  EXPECT_EQ(world_.state().Find<Animal>(rosa.animal), nullptr);
}

TEST_F(Restatements, OfStrangersAreVoid) {
  const device::SecretKey stranger = device::SecretKey::OfSeed(std::string(32, 'z'));
  const Member vera{.name = "vera",
                    .id = {},
                    .key = stranger.public_key(),
                    .device = DeviceOf(stranger.public_key())};
  const std::string bytes =
      facts::BuildCommit({.cooperative = world_.cooperative, .device = vera.device}, {Rosa()});
  EXPECT_EQ(SayInSecondLife(
                vera, {facts::Restatement{.commit = bytes,
                                          .signature = facts::SignCommit(stranger, Sha256(bytes)),
                                          .told = std::make_shared<const facts::Commit>(
                                              *facts::ParseCommit(bytes))}}),
            "void DEVICE_UNKNOWN");
}

}  // namespace
}  // namespace broodpact::registry
