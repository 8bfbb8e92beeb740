// Goal: a stolen laptop is cut off while it listens, its honest work is not lost, a registrar is
// removed by the others, a key is replaced, and a lease makes a promise firm that was made with no
// network. Method: real processes.

#include <gtest/gtest.h>

#include "client/base/day.h"
#include "client/device/clock.h"
#include "tests/e2e/two_keepers.h"

namespace broodpact::e2e {
namespace {

class Members : public TwoKeepers {
 protected:
  // A second device of mira's, "field".
  void SetUp() override {
    TwoKeepers::SetUp();
    const std::string code = mira_.Do({"device", "invite", "--label", "field"});
    mira_.Do({"sync"});
    field_.Do({"join", "-"}, code);
    mira_.Do({"sync"});
  }

  void Add(Keeper& keeper, const std::string& animal) {
    keeper.Do({"animal", "add", animal, "--group", "hamorii-colima"});
  }

  std::string IdOfDevice(Keeper& keeper) { return keeper.Ask({"status"})["device_id"]; }

  static std::string InDays(int days) {
    return ToText(Day{device::SystemClock().Today().number + days});
  }

  // Lets iva in.
  void Enter(Keeper& iva) { iva.Do({"join", "-"}, Invitation()); }

  std::filesystem::path FieldFolder() {
    std::filesystem::create_directories(folder_.path() / "field");
    return folder_.path() / "field";
  }

  Keeper field_{FieldFolder(), "fieldlaptop"};
};

TEST_F(Members, TwoDevicesActForOneKeeper) {
  Add(field_, "rosa");
  field_.Do({"sync"});
  mira_.Do({"sync"});
  mira_.Do({"animal", "moult", "rosa"});
  const nlohmann::json keeper = mira_.Ask({"keeper", "show", "mira"});
  ASSERT_EQ(keeper["devices"].size(), 2U) << keeper;
  EXPECT_EQ(keeper["devices"][1]["label"], "field");
  EXPECT_EQ(keeper["devices"][1]["state"], "active");
  EXPECT_EQ(field_.Ask({"status"})["keeper"]["name"], "mira");
  EXPECT_EQ(field_.Ask({"device", "list"})["devices"].size(), 2U);
}

TEST_F(Members, AStolenLaptopIsCutOffWhileItListens) {
  Add(field_, "late");  // recorded at a meeting, not delivered
  Keeper stolen = field_.CopyTo("stolen");
  stolen.Do({"sync"});  // delivers it: what arrived before the revocation stands
  const std::unique_ptr<Process> follower = stolen.Begin({"sync", "--follow"});
  ASSERT_TRUE(Eventually([&] { return follower->err().find("Following") != std::string::npos; }));
  mira_.Do({"sync"});
  mira_.Do({"device", "revoke", "field", "--reason", "stolen", "--yes"});
  mira_.Do({"sync"});
  const Outcome ended = follower->Wait();
  EXPECT_NE(ended.code, 0);
  EXPECT_NE(ended.err.find("was revoked by mira"), std::string::npos) << ended.err;
  EXPECT_NE(ended.err.find("stolen"), std::string::npos) << ended.err;

  // It says so from now on, with what to do, and records nothing.
  EXPECT_NE(std::string(stolen.Ask({"status"})["refusal"]).find("device adopt"), std::string::npos);
  const Outcome refused = stolen.Try({"animal", "add", "theft", "--group", "hamorii-colima"});
  EXPECT_NE(refused.code, 0);
  EXPECT_NE(refused.err.find("was revoked by mira"), std::string::npos) << refused.err;
  EXPECT_NE(stolen.Try({"sync"}).code, 0);

  tomas_.Do({"sync"});
  EXPECT_EQ(tomas_.Try({"animal", "show", "mira/late"}).code, 0);
  const nlohmann::json devices = tomas_.Ask({"keeper", "show", "mira"})["devices"];
  EXPECT_EQ(devices[1]["state"], "revoked");
  EXPECT_EQ(devices[1]["reason"], "stolen");
}

TEST_F(Members, HonestWorkOfARevokedDeviceIsAdoptedFromABundle) {
  Add(field_, "late");
  mira_.Do({"device", "revoke", "field", "--reason", "lost", "--yes"});
  mira_.Do({"sync"});
  EXPECT_NE(field_.Try({"sync"}).code, 0);
  // Found again: what it had recorded before comes by a file.
  const std::string bundle = (folder_.path() / "found.bundle").string();
  field_.Do({"bundle", "write", bundle});
  mira_.Do({"bundle", "read", bundle});
  const std::string cut_off = IdOfDevice(field_).substr(0, 8);
  mira_.Do({"device", "adopt", cut_off});
  EXPECT_NE(mira_.Do({"device", "adopt", cut_off}).find("broodpact bundle read"),
            std::string::npos);
  mira_.Do({"sync"});
  EXPECT_EQ(mira_.Ask({"status"})["undelivered"], 0);
  EXPECT_EQ(mira_.Ask({"status"}).value("carried", 0), 0);
  tomas_.Do({"sync"});
  EXPECT_EQ(tomas_.Ask({"animal", "show", "mira/late"})["owner"]["name"], "mira");
  EXPECT_TRUE(tomas_.Ask({"verify"})["faults"].empty());
}

TEST_F(Members, ARegistrarIsRemovedByTheOthers) {
  Keeper iva(folder_.path(), "iva");
  Enter(iva);
  tomas_.Do({"sync"});
  tomas_.Do({"keeper", "role", "mira", "registrar"});
  tomas_.Do({"keeper", "role", "iva", "registrar"});
  tomas_.Do({"sync"});
  mira_.Do({"sync"});
  const std::string waits = mira_.Ask({"motion", "list"})["motions"][0]["id"];
  mira_.Do({"motion", "sign", waits.substr(0, 8)});
  mira_.Do({"sync"});
  iva.Do({"sync"});
  EXPECT_EQ(iva.Ask({"keeper", "show", "iva"})["role"], "registrar");

  iva.Do({"keeper", "role", "tomas", "keeper", "--reason", "sells what is not his"});
  iva.Do({"sync"});
  mira_.Do({"sync"});
  EXPECT_EQ(mira_.Ask({"keeper", "show", "tomas"})["role"], "registrar") << "one is not enough";
  mira_.Do({"keeper", "role", "tomas", "keeper"});  // the same as to sign
  mira_.Do({"sync"});
  tomas_.Do({"sync"});
  EXPECT_EQ(tomas_.Ask({"keeper", "show", "tomas"})["role"], "keeper");
  const Outcome refused = tomas_.Try({"invite"});
  EXPECT_NE(refused.code, 0);
  EXPECT_NE(refused.err.find("registrar"), std::string::npos) << refused.err;
}

TEST_F(Members, WhoLeavesIsToldSoByTheSyncThatDeliversIt) {
  Keeper iva(folder_.path(), "iva");
  Enter(iva);
  iva.Do({"keeper", "quit", "--yes"});
  const Outcome left = iva.Try({"sync"});
  EXPECT_EQ(left.code, 0) << left.err;
  EXPECT_NE(left.err.find("iva left the cooperative"), std::string::npos) << left.err;
  tomas_.Do({"sync"});
  EXPECT_NE(tomas_.Ask({"keeper", "show", "iva"}).value("left_time", ""), "");
  const Outcome later = iva.Try({"sync"});
  EXPECT_EQ(later.code, 4) << later.err;
  EXPECT_NE(later.err.find("broodpact --home NEW start"), std::string::npos) << later.err;
}

TEST_F(Members, WhoLeftAndComesBackIsToldThatItTakesANewHome) {
  Keeper iva(folder_.path(), "iva");
  Enter(iva);
  iva.Do({"keeper", "quit", "--yes"});
  iva.Do({"sync"});
  tomas_.Do({"sync"});
  const std::string code = tomas_.Do({"device", "invite", "--for", "iva"});
  tomas_.Do({"sync"});
  const Outcome refused = iva.Try({"join", "-"}, code);
  EXPECT_NE(refused.code, 0);
  EXPECT_NE(refused.err.find("broodpact --home NEW start"), std::string::npos) << refused.err;
}

TEST_F(Members, AKeyIsReplacedAndCopiesOfTheOldOneEnd) {
  Add(mira_, "rosa");
  Keeper copy = mira_.CopyTo("backup");
  const std::string before = IdOfDevice(mira_);
  mira_.Do({"device", "rotate", "--yes"});
  EXPECT_NE(IdOfDevice(mira_), before);
  Add(mira_, "blanka");
  mira_.Do({"sync"});
  const Outcome refused = copy.Try({"sync"});
  EXPECT_NE(refused.code, 0);
  EXPECT_NE(refused.err.find("replaced"), std::string::npos) << refused.err;
  tomas_.Do({"sync"});
  EXPECT_EQ(tomas_.Try({"animal", "show", "mira/rosa"}).code, 0);
  EXPECT_EQ(tomas_.Try({"animal", "show", "mira/blanka"}).code, 0);
  EXPECT_TRUE(mira_.Ask({"verify"})["faults"].empty());
}

TEST_F(Members, ALeaseMakesAPromiseFirmThatIsMadeOffline) {
  Keeper iva(folder_.path(), "iva");
  Enter(iva);
  Add(mira_, "rosa");
  mira_.Do({"sync"});
  field_.Do({"sync"});
  field_.Do({"lease", "take", "--animal", "rosa", "--until", InDays(7)});
  field_.Do({"sync"});
  EXPECT_EQ(field_.Ask({"animal", "show", "rosa"})["leases"].size(), 2U);

  // At home nobody has heard of it: rosa is given to tomas. At the show she is given to iva.
  mira_.Do({"animal", "give", "rosa", "--to", "tomas"});
  field_.Do({"animal", "give", "rosa", "--to", "iva"});
  mira_.Do({"sync"});  // arrives first, and is superseded all the same
  field_.Do({"sync"});
  tomas_.Do({"sync"});
  EXPECT_EQ(tomas_.Ask({"animal", "show", "iva/rosa"})["owner"]["name"], "iva");
  EXPECT_NE(tomas_.Do({"log"}).find("while lease"), std::string::npos) << tomas_.Do({"log"});
}

}  // namespace
}  // namespace broodpact::e2e
