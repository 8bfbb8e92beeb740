// Goal: keys of servers are kept as they are. Method: examples.

#include "client/sync/key_list.h"

#include <gtest/gtest.h>

namespace broodpact::sync {
namespace {

TEST(KeyLists, AreReadAsTheyWereWritten) {
  const std::vector<PublicKey> keys = {PublicKey{1, 2}, PublicKey{3}, PublicKey{}};
  EXPECT_EQ(DecodeKeys(EncodeKeys(keys)), keys);
  EXPECT_TRUE(DecodeKeys("").empty());
}

TEST(KeyLists, AreReadUpToAKeyThatIsCutShort) {
  const std::string bytes = EncodeKeys({PublicKey{1}, PublicKey{2}});
  EXPECT_EQ(DecodeKeys(bytes.substr(0, bytes.size() - 1)), std::vector<PublicKey>{PublicKey{1}});
}

}  // namespace
}  // namespace broodpact::sync
