// Goal: what is sealed opens to those who may read, by way of a server that cannot; a new device
// gets it from an old one; one that was cut off gets nothing of what is written later; and no file
// of a server or of another keeper has it in plain. Method: real processes; the folders are read
// byte by byte; libfaketime for a day that has passed, where it is installed.

#include <filesystem>
#include <fstream>
#include <iterator>

#include "tests/e2e/two_keepers.h"

namespace broodpact::e2e {
namespace {

class SealedText : public TwoKeepers {
 protected:
  void SetUp() override {
    TwoKeepers::SetUp();
    mira_.Do({"animal", "add", "milo", "--group", "hamorii-colima", "--sex", "male", "--method",
              "adult-form", "--mature", "2026-10-02"});
    SyncBoth();
  }

  void SyncBoth() {
    for (Keeper* keeper : {&mira_, &tomas_, &mira_}) keeper->Do({"sync"});
  }

  // The text about a subject that is open to a keeper, the last one; empty: none.
  static std::string TextFor(Keeper& keeper, const std::string& subject) {
    std::string text;
    const nlohmann::json shown = keeper.Ask({"sealed", "show", subject});
    for (const auto& note : shown["notes"]) {
      if (note["state"] == "open") text = note["text"];
    }
    return text;
  }

  // The files under a folder that have the words in them.
  static std::vector<std::string> FilesWith(const std::filesystem::path& folder,
                                            const std::string& words) {
    std::vector<std::string> found;
    for (const auto& file : std::filesystem::recursive_directory_iterator(folder)) {
      if (!file.is_regular_file()) continue;
      std::ifstream in(file.path(), std::ios::binary);
      const std::string bytes{std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
      if (bytes.find(words) != std::string::npos) found.push_back(file.path().string());
    }
    return found;
  }
  void ExpectInNoFile(const std::string& words) {
    for (const auto& folder : {server_.data(), mira_.home(), tomas_.home()}) {
      EXPECT_TRUE(FilesWith(folder, words).empty()) << FilesWith(folder, words).front();
    }
    EXPECT_EQ(server_.log().find(words), std::string::npos);
  }

  std::filesystem::path FieldFolder() {
    std::filesystem::create_directories(folder_.path() / "field");
    return folder_.path() / "field";
  }
  // A second device of mira's.
  Keeper Field() {
    const std::string code = mira_.Do({"device", "invite", "--label", "field"});
    mira_.Do({"sync"});
    Keeper field(FieldFolder(), "fieldlaptop");
    field.Do({"join", "-"}, code);
    return field;
  }
};

TEST_F(SealedText, OfAnAddressOpensToTheOtherPartyOfALoanInForceUntilADay) {
  mira_.Do({"sealed", "write", "mira", "-", "--field", "address"}, "Lipowa 3, Krakow\n");
  tomas_.Do({"sealed", "write", "tomas", "-", "--field", "address"}, "Na Kopci 7, Brno\n");
  mira_.Do({"loan", "offer", "milo", "--to", "tomas", "--name", "milo-loan"});
  SyncBoth();
  EXPECT_EQ(TextFor(tomas_, "mira"), "");
  tomas_.Do({"loan", "accept", "milo-loan"});  // opens his
  tomas_.Do({"sync"});
  const Outcome synced = mira_.Try({"sync"});  // which is when she knows, and opens hers
  EXPECT_NE(synced.err.find("Your address is open to tomas until"), std::string::npos)
      << synced.err;
  tomas_.Do({"sync"});
  EXPECT_EQ(TextFor(tomas_, "mira"), "Lipowa 3, Krakow");
  EXPECT_EQ(TextFor(mira_, "tomas"), "Na Kopci 7, Brno");
  EXPECT_EQ(mira_.Ask({"status"})["undelivered"], 0);

  ExpectInNoFile("Lipowa");
  ExpectInNoFile("Kopci");

  const std::string faketime = "/usr/lib/x86_64-linux-gnu/faketime/libfaketimeMT.so.1";
  if (!std::filesystem::exists(faketime)) return;
  tomas_.SetEnvironment(
      {{"LD_PRELOAD", faketime}, {"FAKETIME", "+31d"}, {"FAKETIME_DONT_FAKE_MONOTONIC", "1"}});
  EXPECT_EQ(TextFor(tomas_, "mira"), "");
  EXPECT_EQ(TextFor(tomas_, "tomas"), "Na Kopci 7, Brno") << "his own stays";
}

TEST_F(SealedText, IsBroughtToANewDeviceAndNotToOneThatWasCutOff) {
  mira_.Do({"sealed", "write", "milo", "-", "--field", "locality"}, "north of Xalitla");
  mira_.Do({"sync"});
  Keeper field = Field();
  EXPECT_EQ(TextFor(field, "milo"), "");
  mira_.Do({"sync"});
  field.Do({"sync"});
  EXPECT_EQ(TextFor(field, "milo"), "north of Xalitla");

  mira_.Do({"device", "revoke", "field", "--reason", "stolen", "--yes"});
  mira_.Do({"sealed", "write", "milo", "-", "--field", "locality"}, "south of Xalitla");
  mira_.Do({"sync"});
  // What arrives comes to the thief by a bundle too: the server is not what keeps it closed.
  const std::string bundle = (folder_.path() / "news.bundle").string();
  mira_.Do({"bundle", "write", bundle});
  field.Do({"bundle", "read", bundle});
  const nlohmann::json shown = field.Ask({"sealed", "show", "milo"});
  ASSERT_EQ(shown["notes"].size(), 1U) << shown;
  EXPECT_EQ(shown["notes"][0]["state"], "closed");
  EXPECT_EQ(TextFor(mira_, "milo"), "south of Xalitla");
  ExpectInNoFile("Xalitla");
}

TEST_F(SealedText, IsReadOnByADeviceThatTookAnotherKeyAndNotByACopyOfTheOldOne) {
  mira_.Do({"sealed", "write", "milo", "-", "--field", "note"}, "before");
  mira_.Do({"sync"});
  Keeper copy = mira_.CopyTo("copy");
  mira_.Do({"device", "rotate", "--yes"});
  EXPECT_EQ(TextFor(mira_, "milo"), "before");
  mira_.Do({"sealed", "write", "milo", "-", "--field", "note"}, "after");
  mira_.Do({"sync"});
  EXPECT_EQ(TextFor(mira_, "milo"), "after");
  const std::string bundle = (folder_.path() / "news.bundle").string();
  mira_.Do({"bundle", "write", bundle});
  copy.Do({"bundle", "read", bundle});
  EXPECT_EQ(TextFor(copy, "milo"), "");
  EXPECT_TRUE(mira_.Ask({"verify"})["faults"].empty());
}

}  // namespace
}  // namespace broodpact::e2e
