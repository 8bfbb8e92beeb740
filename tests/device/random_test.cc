// Goal: fresh ids are fresh. Method: draw many, and draw none.

#include "client/device/random.h"

#include <set>

#include <gtest/gtest.h>

namespace broodpact::device {
namespace {

TEST(Randomness, GivesAsManyBytesAsAsked) {
  EXPECT_EQ(SystemRandomness().Bytes(0), "");
  EXPECT_EQ(SystemRandomness().Bytes(33).size(), 33U);
}

TEST(Randomness, NamesNoTwoThingsAlike) {
  std::set<AnimalId> ids;
  for (int i = 0; i < 1000; ++i) ids.insert(FreshId<AnimalId>(SystemRandomness()));
  EXPECT_EQ(ids.size(), 1000U);
}

// Takes randomness as a parameter: a test can choose it.
class Fixed final : public Randomness {
 public:
  std::string Bytes(std::size_t size) override { return std::string(size, '\x80'); }
};

TEST(Randomness, IsTakenAsItComes) {
  Fixed fixed;
  LotId due;
  due.bytes.fill(0x80);
  EXPECT_EQ(FreshId<LotId>(fixed), due);
}

}  // namespace
}  // namespace broodpact::device
