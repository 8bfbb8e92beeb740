// Goal: what is forged, foreign, too old, too new or does not fit is refused with a sentence that
// says what to do, and nothing is lost by it. Method: real processes; the folders of keepers are
// changed between two commands, as a mistake, a copy or a bad disk would.

#include <filesystem>
#include <fstream>
#include <sstream>

#include <gtest/gtest.h>

#include "client/base/hash.h"
#include "client/replica/replica.h"
#include "client/store/internal/database.h"
#include "client/store/internal/keys.h"
#include "client/sync/invite_code.h"
#include "server/authority.h"
#include "server/folder.h"
#include "tests/e2e/two_keepers.h"

namespace broodpact::e2e {
namespace {

std::string ReadFile(const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

void WriteFile(const std::filesystem::path& file, std::string_view bytes) {
  std::ofstream(file, std::ios::binary | std::ios::trunc) << bytes;
}

// Mira has one commit that is not delivered.
class Refusals : public TwoKeepers {
 protected:
  void SetUp() override {
    TwoKeepers::SetUp();
    mira_.Do({"animal", "add", "rosa", "--group", "hamorii-colima"});
  }

  void ExpectRefused(const Outcome& outcome, int code, std::string_view said) {
    EXPECT_EQ(outcome.code, code) << outcome.out << outcome.err;
    EXPECT_NE(outcome.err.find(said), std::string::npos) << outcome.err;
  }

  // What Mira recorded is there, and arrives.
  void ExpectNothingLost() {
    EXPECT_EQ(mira_.Ask({"status"})["undelivered"], 1);
    mira_.Do({"sync"});
    tomas_.Do({"sync"});
    EXPECT_EQ(tomas_.Ask({"animal", "show", "mira/rosa"})["name"], "rosa");
  }

  std::unique_ptr<store::Store> OpenStore(const Keeper& keeper) {
    auto opened =
        store::Store::Open(replica::Home(keeper.home()).database(), store::Access::kReadWrite);
    EXPECT_TRUE(opened.ok()) << opened.status();
    return *std::move(opened);
  }
};

TEST_F(Refusals, OfACommitWithABadSignatureSayWhatToVerify) {
  store::PendingCommit pending = OpenStore(mira_)->Pending()->front();
  const Signature good = pending.commit.signature;
  pending.commit.signature[0] = static_cast<std::uint8_t>(good[0] ^ 1U);
  ASSERT_TRUE(OpenStore(mira_)->AppendPending({pending}).ok());

  ExpectRefused(mira_.Try({"sync"}), 1, "verify");
  ExpectRefused(mira_.Try({"verify"}), 8, "fault");
  tomas_.Do({"sync"});
  EXPECT_EQ(tomas_.Try({"animal", "show", "mira/rosa"}).code, 3) << "nothing of it arrived";
  pending.commit.signature = good;
  ASSERT_TRUE(OpenStore(mira_)->AppendPending({pending}).ok());
  ExpectNothingLost();
}

TEST_F(Refusals, OfAChainWithAHoleSayThatCommitsAreMissing) {
  {
    const auto key = device::SecretKey::Load(replica::Home(mira_.home()).key_file());
    ASSERT_TRUE(key.ok()) << key.status();
    const auto database = OpenStore(mira_);
    store::PendingCommit pending = database->Pending()->front();
    facts::CommitHeader header = facts::ParseCommit(pending.commit.bytes)->header;
    header.seq += 2;
    header.prev = Sha256("a commit that is missing");
    pending.seq = header.seq;
    pending.commit.bytes =
        facts::BuildCommit(header, {facts::GroupEntry{.group = FirstHalf<GroupId>(Sha256("orphan")),
                                                      .name = "orphan",
                                                      .taxon = "Brachypelma hamorii"}});
    pending.commit.signature = facts::SignCommit(*key, Sha256(pending.commit.bytes));
    ASSERT_TRUE(database->AppendPending({pending}).ok());
  }
  ExpectRefused(mira_.Try({"sync"}), 8, "comes after");
  tomas_.Do({"sync"});
  EXPECT_EQ(tomas_.Try({"group", "show", "orphan"}).code, 3);
  EXPECT_EQ(tomas_.Try({"animal", "show", "mira/rosa"}).code, 3) << "a run arrives whole or not";
}

TEST_F(Refusals, OfAnUnknownDeviceSayWhomToAsk) {
  Keeper bela(folder_.path(), "bela");
  bela.Do({"found", "Another cooperative"});
  for (const char* const file : {"server", "authority.pem", "client.pem", "client.key"}) {
    std::filesystem::copy_file(mira_.home() / file, bela.home() / file);
  }
  ExpectRefused(bela.Try({"sync"}), 5, "another cooperative");
  WriteFile(bela.home() / "client.pem", "garbage");
  ExpectRefused(bela.Try({"sync"}), 4, "ask a registrar");
  EXPECT_EQ(bela.Ask({"status"})["undelivered"], 1);
}

TEST_F(Refusals, OfTheCertificateOfAnotherCooperativeAreMendedByARenewal) {
  Server other(folder_.path() / "other");
  other.Start();
  Keeper bela(folder_.path(), "bela");
  bela.Do({"found", "Another cooperative"});
  bela.Do({"join", other.claim_code()});
  for (const char* const file : {"client.pem", "client.key"}) {
    std::filesystem::copy_file(bela.home() / file, mira_.home() / file,
                               std::filesystem::copy_options::overwrite_existing);
  }
  ExpectNothingLost();
}

TEST_F(Refusals, OfACertificateWhoseFileIsEmptyAreMendedByARenewal) {
  WriteFile(mira_.home() / "client.pem", "");
  mira_.Do({"sync"});
  EXPECT_NE(ReadFile(mira_.home() / "client.pem"), "");
}

TEST_F(Refusals, OfACertificateOrAKeyOfOneWhoseFileIsGoneAreMendedByARenewal) {
  for (const char* const file : {"client.pem", "client.key"}) {
    std::filesystem::remove(mira_.home() / file);
    mira_.Do({"sync"});
    EXPECT_NE(ReadFile(mira_.home() / file), "") << file;
  }
}

TEST_F(Refusals, OfACertificateThatExpiredAreMendedByARenewal) {
  constexpr std::int64_t kTwoYearsMs = std::int64_t{730} * 24 * 3'600 * 1'000;
  const std::int64_t now_ms = device::SystemClock().NowMillis();
  const auto authority =
      server::Authority::Open(server::Folder(server_.data()), {"127.0.0.1"}, now_ms);
  ASSERT_TRUE(authority.ok()) << authority.status();
  const auto device = device::SecretKey::Load(replica::Home(mira_.home()).key_file());
  const device::SecretKey tls_key = device::SecretKey::Generate();
  const auto expired = authority->IssueClient(DeviceOf(device->public_key()), tls_key.public_key(),
                                              now_ms - kTwoYearsMs);
  ASSERT_TRUE(expired.ok()) << expired.status();
  WriteFile(mira_.home() / "client.pem", *expired);
  WriteFile(mira_.home() / "client.key", tls_key.Pem());

  server_.Kill();
  ExpectRefused(mira_.Try({"sync"}), 6, "kept");
  server_.Start();
  ExpectNothingLost();
  EXPECT_NE(ReadFile(mira_.home() / "client.pem"), *expired);
}

TEST_F(Refusals, OfAnotherServerAtTheAddressAreOneLineOfJson) {
  server_.Kill();
  std::filesystem::rename(server_.data(), folder_.path() / "away");
  server_.Start();  // a fresh one, at the same address
  const Outcome outcome = mira_.Try({"sync", "--json"});
  EXPECT_EQ(outcome.code, 1) << outcome.err;
  const nlohmann::json error = nlohmann::json::parse(outcome.err, nullptr, false);
  ASSERT_FALSE(error.is_discarded()) << outcome.err;
  EXPECT_EQ(error["error"]["reason"], "SERVER_OTHER");

  server_.Kill();
  ExpectRefused(mira_.Try({"sync"}), 6, "kept");
  std::filesystem::remove_all(server_.data());
  std::filesystem::rename(folder_.path() / "away", server_.data());
  server_.Start();
  ExpectNothingLost();
}

TEST_F(Refusals, OfAWrongInvitationSayHowItIsWrong) {
  Keeper bela(folder_.path(), "bela");
  const auto code = sync::ParseInviteCode(Invitation().substr(0, Invitation().find('\n')));
  ASSERT_TRUE(code.ok()) << code.status();
  sync::InviteCode foreign = *code;
  foreign.cooperative = Sha256("another cooperative");
  ExpectRefused(bela.Try({"join", "-"}, sync::BuildInviteCode(foreign)), 5, "new code");
  ExpectRefused(mira_.Try({"join", "-"}, sync::BuildInviteCode(foreign)), 5, "--home");
  sync::InviteCode unknown = *code;
  unknown.secret = std::string(sync::kSecretSize, 'x');
  ExpectRefused(bela.Try({"join", "-"}, sync::BuildInviteCode(unknown)), 3, "registrar");
  sync::InviteCode elsewhere = *code;
  elsewhere.authority = Sha256("another server");
  ExpectRefused(bela.Try({"join", "-"}, sync::BuildInviteCode(elsewhere)), 1, "somebody else");
  server_.Kill();
  ExpectRefused(bela.Try({"join", "-"}, sync::BuildInviteCode(*code)), 6, "no server answers");
  server_.Start();
  bela.Do({"join", "-"}, sync::BuildInviteCode(*code));
}

TEST_F(Refusals, OfATakenNameSayHowToJoinUnderAnother) {
  const std::string code = Invitation();
  std::filesystem::create_directory(folder_.path() / "second");
  Keeper second(folder_.path() / "second", "mira");
  ExpectRefused(second.Try({"join", "-"}, code), 5, "broodpact start");
  Keeper marta(folder_.path(), "marta");
  marta.Do({"join", "-"}, code);
}

TEST_F(Refusals, OfAReplicaOfANewerVersionLeaveItAlone) {
  const std::filesystem::path database = replica::Home(mira_.home()).database();
  const auto set_format = [&](std::uint64_t format) {
    const auto opened = store::Database::Open(database, store::Access::kReadWrite);
    ASSERT_TRUE(opened.ok()) << opened.status();
    ASSERT_TRUE((*opened)
                    ->db()
                    .Put(rocksdb::WriteOptions(), (*opened)->part(store::Part::kMeta),
                         store::SliceOf(store::kFormatName), store::Big64Text(format))
                    .ok());
  };
  set_format(store::kFormat + 1);
  ExpectRefused(mira_.Try({"status"}), 1, "upgrade");
  ExpectRefused(mira_.Try({"animal", "moult", "rosa"}), 1, "upgrade");
  ExpectRefused(mira_.Try({"rebuild"}), 1, "upgrade");
  set_format(store::kFormat);
  ExpectNothingLost();
}

TEST_F(Refusals, OfAFullDiskSayWhatToFree) {
  const std::vector<std::string> limited = {"/bin/sh",
                                            "-c",
                                            "ulimit -f 1; exec \"$@\"",
                                            "sh",
                                            BROODPACT_CLI,
                                            "animal",
                                            "add",
                                            "vlasta",
                                            "--group",
                                            "hamorii-colima",
                                            "--home",
                                            mira_.home().string()};
  const Outcome outcome = RunToEnd(limited, folder_.path() / "limited");
  ExpectRefused(outcome, 1, "free some space");
  EXPECT_EQ(mira_.Try({"animal", "show", "mira/vlasta"}).code, 3);
  EXPECT_TRUE(mira_.Ask({"verify"})["faults"].empty());
  ExpectNothingLost();
}

TEST_F(Refusals, OfAFolderWithoutItsReplicaMakeNoOtherInItsPlace) {
  const std::filesystem::path database = replica::Home(mira_.home()).database();
  std::filesystem::rename(database, folder_.path() / "away");
  for (const char* const command : {"status", "sync", "rebuild", "verify"}) {
    ExpectRefused(mira_.Try({command}), 8, "backup");
  }
  std::filesystem::rename(folder_.path() / "away", database);
  ExpectNothingLost();
}

TEST_F(Refusals, OfADamagedAddressNameTheFile) {
  const std::string address = ReadFile(mira_.home() / "server");
  for (const char* const bytes : {"", "garbage", "127.0.0.1:99999"}) {
    WriteFile(mira_.home() / "server", bytes);
    ExpectRefused(mira_.Try({"sync"}), 8, "'server'");
  }
  WriteFile(mira_.home() / "server", address);
  ExpectNothingLost();
}

TEST_F(Refusals, OfAFoldBeforeTheFirstArrivalHaveNoConsequence) {
  Keeper bela(folder_.path(), "bela");
  bela.Do({"rebuild"});
  bela.Do({"join", "-"}, Invitation());
  bela.Do({"animal", "add", "cyril", "--group", "hamorii-colima"});
  bela.Do({"sync"});
  EXPECT_TRUE(bela.Ask({"verify"})["faults"].empty());
}

}  // namespace
}  // namespace broodpact::e2e
