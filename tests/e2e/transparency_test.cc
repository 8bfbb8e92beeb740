// Goal: keepers see by what heads they hold the server to its word. Method: real processes. A
// server that lost something and says so is server_loss_test.cc's; one that does not is caught in
// the simulation, and by bundles (bundle_test.cc).

#include <gtest/gtest.h>

#include "tests/e2e/two_keepers.h"

namespace broodpact::e2e {
namespace {

class Transparency : public TwoKeepers {
 protected:
  void Add(Keeper& keeper, const std::string& animal) {
    keeper.Do({"animal", "add", animal, "--group", "hamorii-colima"});
  }
};

TEST_F(Transparency, ShowsTheLastHeadAndNoDoubtOfAnHonestServer) {
  Add(mira_, "rosa");
  mira_.Do({"sync"});
  tomas_.Do({"sync"});
  const nlohmann::json mira = mira_.Ask({"heads"});
  const nlohmann::json tomas = tomas_.Ask({"heads"});
  EXPECT_EQ(mira["last"]["tree_root"], tomas["last"]["tree_root"]);
  EXPECT_EQ(mira["last"]["log_hash"], mira_.Ask({"status"})["log_hash"]);
  EXPECT_TRUE(mira["doubts"].empty());
}

}  // namespace
}  // namespace broodpact::e2e
