// Goal: whoever has a good code gets in, once, and nobody else does; every refusal says what to do.
// Method: a real server and newcomers with good, wrong, used and stolen codes.

#include "server/joining_service.h"

#include <string>
#include <utility>
#include <vector>

#include <gtest/gtest.h>

#include "client/base/status.h"
#include "client/sync/certificate.h"
#include "client/sync/invite_code.h"
#include "client/sync/joining.h"
#include "tests/server/trial_server.h"

namespace broodpact::server {
namespace {

class JoiningTest : public Cooperative {
 protected:
  // One joins who has made up a code. Returns why he is not let in.
  std::string ReasonOfGuess(int number) {
    Member guesser("bela");
    const std::string secret = std::string(15, 'x') + static_cast<char>(number);
    return ReasonOf(guesser.Join(sync::BuildInviteCode({.cooperative = mira_.cooperative(),
                                                        .authority = authority_,
                                                        .secret = secret,
                                                        .address = server_.server().address()})));
  }
  // Guesses until it is slowed down, or should long have been. Returns the last reason.
  std::string Guess() {
    std::string reason;
    for (int i = 0; i < 2 * kTriesMax && reason != "TOO_MANY_TRIES"; ++i) reason = ReasonOfGuess(i);
    return reason;
  }
};

// Claims with a wrong secret until it is slowed down, or should long have been. Returns the last
// reason.
std::string GuessClaim(const sync::Credentials& credentials, const facts::SignedCommit& founding) {
  const device::SecretKey tls_key = device::SecretKey::Generate();
  std::string reason;
  for (int i = 0; i < 2 * kTriesMax && reason != "TOO_MANY_TRIES"; ++i) {
    reason = ReasonOf(
        sync::Claim(credentials, std::string(16, 'x'), founding, tls_key.public_key()).status());
  }
  return reason;
}

TEST_F(JoiningTest, AFounderAndANewcomerAreInAndSync) {
  mira_.CommitGroups(3);
  ASSERT_TRUE(mira_.Sync().ok());
  const auto synced = tomas_.Sync();
  ASSERT_TRUE(synced.ok()) << synced.status();
  EXPECT_EQ(tomas_.point(), mira_.point());
  EXPECT_EQ(tomas_.point().arrivals, 6U);  // founding, invitation, joining, three groups
}

TEST_F(JoiningTest, TheServerIsGivenAwayOnce) {
  EXPECT_EQ(server_.server().claim_code(), std::nullopt);
  EXPECT_FALSE(std::filesystem::exists(server_.folder() / "server" / "claim"));
  Member bela("bela");
  const std::string code = sync::BuildInviteCode({.cooperative = {},
                                                  .authority = authority_,
                                                  .secret = std::string(16, 'x'),
                                                  .address = server_.server().address()});
  const absl::Status status = bela.FoundAndClaim(code);
  EXPECT_EQ(status.code(), absl::StatusCode::kAlreadyExists);
  EXPECT_EQ(ReasonOf(status), "SERVER_TAKEN");
}

TEST_F(JoiningTest, ACodeWorksOnce) {
  const std::string code = Invite();
  Member bela("bela");
  ASSERT_TRUE(bela.Join(code).ok());
  Member iva("iva");
  EXPECT_EQ(ReasonOf(iva.Join(code)), "INVITE_USED");
}

TEST_F(JoiningTest, AJoinWhoseAnswerWasLostIsAnsweredAgain) {
  const std::string code = Invite();
  Member bela("bela");
  const facts::SignedCommit joining = bela.JoiningCommit(code);
  bela.credentials().address = server_.server().address();
  bela.credentials().authority_pem = mira_.credentials().authority_pem;
  for (int i = 0; i < 2; ++i) {
    const device::SecretKey tls_key = device::SecretKey::Generate();
    const auto pem = sync::Join(bela.credentials(), bela.cooperative(), joining,
                                tls_key.public_key(), bela.key());
    ASSERT_TRUE(pem.ok()) << pem.status();
    bela.credentials().certificate_pem = *pem;
    bela.credentials().key_pem = tls_key.Pem();
  }
  EXPECT_TRUE(bela.Sync().ok());
}

TEST_F(JoiningTest, AMemberCannotJoinAgainInAnothersName) {
  // Bela's joining is in the log, for tomas to read. He sends it with a key of his own.
  const std::string code = Invite();
  Member bela("bela");
  ASSERT_TRUE(bela.Join(code).ok());
  const auto stolen = sync::Join(tomas_.credentials(), tomas_.cooperative(), bela.pending().front(),
                                 device::SecretKey::Generate().public_key(), tomas_.key());
  EXPECT_EQ(ReasonOf(stolen.status()), "TLS_KEY_BAD");
}

TEST_F(JoiningTest, AnUnknownInvitationSaysThatItHasNotArrived) {
  Member bela("bela");
  const std::string code = sync::BuildInviteCode({.cooperative = mira_.cooperative(),
                                                  .authority = authority_,
                                                  .secret = std::string(16, 'x'),
                                                  .address = server_.server().address()});
  const absl::Status status = bela.Join(code);
  EXPECT_EQ(status.code(), absl::StatusCode::kNotFound);
  EXPECT_EQ(ReasonOf(status), "INVITE_UNKNOWN");
}

// What bela sends who came in elsewhere, and what of it the server gives a place.
class EnteringAgain : public JoiningTest {
 protected:
  absl::Status Enter(const std::string& code, const std::vector<facts::SignedCommit>& brought) {
    bela_.credentials().address = server_.server().address();
    bela_.credentials().authority_pem = mira_.credentials().authority_pem;
    sync::Reentry reentry{
        .cooperative = mira_.cooperative(), .joining = bela_.JoiningCommit(code), .inviting = {}};
    for (const facts::SignedCommit& commit : brought) {
      reentry.inviting.commits.push_back(commit.bytes);
      reentry.inviting.signature = commit.signature;
    }
    return sync::JoinAgain(bela_.credentials(), reentry, device::SecretKey::Generate().public_key(),
                           bela_.key())
        .status();
  }
  // Invites without telling the server.
  std::string InviteElsewhere() { return mira_.Invite(server_.server().address(), authority_); }

  Member bela_{"bela"};
};

TEST_F(EnteringAgain, WithTheInvitationThatTheServerLacksLetsOneIn) {
  mira_.CommitGroups(2);
  const std::string code = InviteElsewhere();
  EXPECT_TRUE(Enter(code, mira_.pending()).ok());
}

TEST_F(EnteringAgain, WithARunThatHasNotTheInvitationGivesThatNoPlace) {
  ASSERT_TRUE(mira_.Sync().ok());
  const std::uint64_t arrivals = mira_.point().arrivals;
  mira_.CommitGroups(2);
  const std::vector<facts::SignedCommit> groups = mira_.pending();
  const std::string code = InviteElsewhere();
  EXPECT_EQ(ReasonOf(Enter(code, groups)), "INVITE_UNKNOWN");
  ASSERT_TRUE(tomas_.Sync().ok());
  EXPECT_EQ(tomas_.point().arrivals, arrivals);
}

TEST_F(EnteringAgain, WithAnInvitationThatItsAuthorDidNotSignLetsNobodyIn) {
  const std::string code = InviteElsewhere();
  std::vector<facts::SignedCommit> forged = mira_.pending();
  forged.back().signature[0] ^= 1;
  EXPECT_EQ(ReasonOf(Enter(code, forged)), "INVITE_UNKNOWN");
}

TEST_F(JoiningTest, AnotherCooperativesCodeIsRefused) {
  Member bela("bela");
  const std::string code = sync::BuildInviteCode({.cooperative = Sha256("another"),
                                                  .authority = authority_,
                                                  .secret = std::string(16, 'x'),
                                                  .address = server_.server().address()});
  EXPECT_EQ(ReasonOf(bela.Join(code)), "COOPERATIVE_OTHER");
}

TEST_F(JoiningTest, ACodeOfAnotherServerFindsSomebodyElse) {
  Member bela("bela");
  const std::string code = sync::BuildInviteCode({.cooperative = mira_.cooperative(),
                                                  .authority = Sha256("another authority"),
                                                  .secret = std::string(16, 'x'),
                                                  .address = server_.server().address()});
  const absl::Status status = bela.Join(code);
  EXPECT_EQ(status.code(), absl::StatusCode::kPermissionDenied);
  EXPECT_EQ(ReasonOf(status), "SERVER_OTHER");
}

TEST_F(JoiningTest, ANameThatIsTakenIsRefusedBeforeItArrives) {
  const std::string code = Invite();
  const std::uint64_t arrivals = mira_.point().arrivals;
  Member other_tomas("tomas");
  EXPECT_FALSE(other_tomas.Join(code).ok());
  Member bela("bela");
  EXPECT_TRUE(bela.Join(code).ok());  // the code is still good
  ASSERT_TRUE(mira_.Sync().ok());
  EXPECT_EQ(mira_.point().arrivals, arrivals + 1);
}

TEST_F(JoiningTest, ADevicesOwnKeyIsNoKeyForItsCertificate) {
  const std::string code = Invite();
  Member bela("bela");
  const facts::SignedCommit joining = bela.JoiningCommit(code);
  const auto pem = sync::Join(mira_.credentials(), mira_.cooperative(), joining,
                              bela.key().public_key(), bela.key());
  EXPECT_EQ(ReasonOf(pem.status()), "TLS_KEY_BAD");
}

TEST_F(JoiningTest, GuessingIsSlowedDown) {
  EXPECT_EQ(Guess(), "TOO_MANY_TRIES");
  server_.clock().Move(60'000);
  EXPECT_EQ(ReasonOfGuess(0), "INVITE_UNKNOWN");
  EXPECT_TRUE(Member("bela").Join(Invite()).ok());
}

TEST_F(JoiningTest, WhoeverIsInvitedIsNotHeldUpByThoseWhoGuess) {
  const std::string code = Invite();
  ASSERT_EQ(Guess(), "TOO_MANY_TRIES");
  const absl::Status status = Member("bela").Join(code);
  EXPECT_TRUE(status.ok()) << status;
}

TEST_F(JoiningTest, WhoeverLostTheAnswerIsNotHeldUpByThoseWhoGuess) {
  Member bela("bela");
  ASSERT_TRUE(bela.Join(Invite()).ok());
  ASSERT_EQ(Guess(), "TOO_MANY_TRIES");
  const auto again = sync::Join(bela.credentials(), bela.cooperative(), bela.pending().front(),
                                device::SecretKey::Generate().public_key(), bela.key());
  EXPECT_TRUE(again.ok()) << again.status();
}

TEST_F(JoiningTest, AUsedCodeIsSlowedDownLikeAGuess) {
  const std::string code = Invite();
  ASSERT_TRUE(Member("bela").Join(code).ok());
  ASSERT_EQ(Guess(), "TOO_MANY_TRIES");
  server_.clock().Move(-60'000);  // no try comes back meanwhile
  EXPECT_EQ(ReasonOf(Member("iva").Join(code)), "TOO_MANY_TRIES");
}

TEST_F(JoiningTest, WrongClaimsOfATakenServerSlowNobodyDownWhoJoins) {
  Member stranger("iva");
  ASSERT_EQ(ReasonOf(stranger.FoundAndClaim(
                sync::BuildInviteCode({.cooperative = {},
                                       .authority = authority_,
                                       .secret = std::string(16, 'x'),
                                       .address = server_.server().address()}))),
            "SERVER_TAKEN");
  ASSERT_EQ(GuessClaim(stranger.credentials(), stranger.pending().front()), "TOO_MANY_TRIES");
  EXPECT_EQ(ReasonOfGuess(0), "INVITE_UNKNOWN");
}

TEST_F(JoiningTest, AnExpiredCertificateIsToldAndRenewed) {
  server_.clock().Move(366 * kDay);
  sync::Options later;
  later.now_ms = server_.clock().NowMillis();
  const auto expired = tomas_.Sync(later);
  EXPECT_EQ(expired.status().code(), absl::StatusCode::kFailedPrecondition);
  EXPECT_EQ(ReasonOf(expired.status()), "CERTIFICATE_EXPIRED");

  // A client whose own clock is behind finds out from the server.
  EXPECT_EQ(ReasonOf(tomas_.Sync().status()), "CERTIFICATE_EXPIRED");

  const device::SecretKey tls_key = device::SecretKey::Generate();
  const auto pem = sync::Renew(tomas_.credentials(), tomas_.key(), tls_key.public_key(), {});
  ASSERT_TRUE(pem.ok()) << pem.status();
  const sync::CertificateOwner certificate = sync::CertificateOfPem(*pem);
  ASSERT_NE(certificate, nullptr);
  EXPECT_GT(sync::ValidityOf(certificate.get())->until_ms, later.now_ms + 364 * kDay);
}

TEST_F(JoiningTest, OnlyTheDeviceItselfRenews) {
  const device::SecretKey tls_key = device::SecretKey::Generate();
  const device::SecretKey stranger = device::SecretKey::Generate();
  EXPECT_EQ(
      ReasonOf(sync::Renew(tomas_.credentials(), stranger, tls_key.public_key(), {}).status()),
      "DEVICE_UNKNOWN");
}

TEST_F(JoiningTest, ADeviceWhoseKeyTookAMembersPlaceElsewhereGetsACertificate) {
  const Hash cooperative = tomas_.cooperative();
  const device::SecretKey tls_key = device::SecretKey::Generate();
  const device::SecretKey next = device::SecretKey::Generate();
  const device::SecretKey last = device::SecretKey::Generate();
  const auto rotation = [&](const Signer& from, const Signer& to, const Signer& consenting) {
    const DeviceId device = DeviceOf(from.public_key());
    const std::string bytes = facts::BuildCommit(
        {.cooperative = cooperative, .device = device, .seq = 1},
        {facts::KeyRotation{
            .device_key = to.public_key(),
            .key_signature = consenting.Sign(facts::RotationMessage(cooperative, device))}});
    return facts::SignedCommit{.bytes = bytes, .signature = facts::SignCommit(from, Sha256(bytes))};
  };
  const auto reason = [&](const Signer& device, const std::vector<facts::SignedCommit>& by) {
    return ReasonOf(sync::Renew(tomas_.credentials(), device, tls_key.public_key(), by).status());
  };
  const facts::SignedCommit first = rotation(tomas_.key(), next, next);
  const facts::SignedCommit second = rotation(next, last, last);
  EXPECT_EQ(reason(last, {first}), "DEVICE_UNKNOWN");
  EXPECT_EQ(reason(last, {second}), "DEVICE_UNKNOWN");
  // What came before a member's device has arrived, and says nothing.
  const facts::SignedCommit earlier = rotation(last, tomas_.key(), tomas_.key());
  EXPECT_EQ(reason(last, {earlier, first, second}), "");
  EXPECT_EQ(reason(last, {first, second}), "");
  // One at a time: a certificate for every key that a member makes up would be without bound.
  EXPECT_EQ(reason(next, {first}), "DEVICE_REPLACED");
  // Not agreed to by the key that is to take the place: then anybody's work could be claimed.
  EXPECT_EQ(reason(next, {rotation(tomas_.key(), next, last)}), "DEVICE_UNKNOWN");
  facts::SignedCommit forged = first;
  forged.signature = facts::SignCommit(next, Sha256(forged.bytes));
  EXPECT_EQ(reason(next, {forged}), "SIGNATURE_BAD");
}

TEST(Claim, WithAWrongSecretIsRefused) {
  TrialServer server;
  server.Start();
  const std::optional<std::string> code = server.server().claim_code();
  ASSERT_TRUE(code.has_value());
  auto claim = sync::ParseInviteCode(*code);
  ASSERT_TRUE(claim.ok());
  claim->secret[0] = static_cast<char>(claim->secret[0] ^ 1);
  Member mira("mira");
  const absl::Status status = mira.FoundAndClaim(sync::BuildInviteCode(*claim));
  EXPECT_EQ(status.code(), absl::StatusCode::kPermissionDenied);
  EXPECT_EQ(ReasonOf(status), "CLAIM_WRONG");
}

TEST(Claim, WithTheRightSecretIsNotHeldUpByThoseWhoGuess) {
  TrialServer server;
  server.Start();
  auto claim = sync::ParseInviteCode(*server.server().claim_code());
  ASSERT_TRUE(claim.ok());
  const std::string secret = std::exchange(claim->secret, std::string(16, 'x'));
  Member mira("mira");
  ASSERT_EQ(ReasonOf(mira.FoundAndClaim(sync::BuildInviteCode(*claim))), "CLAIM_WRONG");
  const facts::SignedCommit founding = mira.pending().front();
  ASSERT_EQ(GuessClaim(mira.credentials(), founding), "TOO_MANY_TRIES");
  const device::SecretKey tls_key = device::SecretKey::Generate();
  const auto pem = sync::Claim(mira.credentials(), secret, founding, tls_key.public_key());
  EXPECT_TRUE(pem.ok()) << pem.status();
}

TEST(Claim, WhoseAnswerWasLostIsAnsweredAgain) {
  TrialServer server;
  server.Start();
  const auto claim = sync::ParseInviteCode(*server.server().claim_code());
  Member mira("mira");
  ASSERT_TRUE(mira.FoundAndClaim(sync::BuildInviteCode(*claim)).ok());
  const device::SecretKey tls_key = device::SecretKey::Generate();
  const auto again =
      sync::Claim(mira.credentials(), claim->secret, mira.pending().front(), tls_key.public_key());
  EXPECT_TRUE(again.ok()) << again.status();
}

TEST(Claim, CodeIsTheSameUntilItIsUsed) {
  TrialServer server;
  server.Start();
  server.options.listen = server.server().address();
  const std::optional<std::string> code = server.server().claim_code();
  server.Stop();
  server.Start();
  EXPECT_EQ(server.server().claim_code(), code);
}

}  // namespace
}  // namespace broodpact::server
