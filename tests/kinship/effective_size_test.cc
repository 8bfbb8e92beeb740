// Goal: effective sizes and the decay of heterozygosity are Wright's. Method: published values.

#include "client/kinship/effective_size.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/kinship/published_cases.h"

namespace broodpact::kinship {
namespace {

// Source: Wright, Genetics 16 (1931) 97-159; Crow & Kimura (1970).
TEST(EffectiveSize, MeetsWrightsFormulas) {
  std::size_t checked = 0;
  for (const Json& one : CasesOf("ne_heterozygosity")) {
    if (one.contains("t")) {
      const auto size = one.at("Ne").get<double>();
      const double left = HeterozygosityLeft(size, one.at("t").get<std::uint32_t>());
      const auto expected = one.at("Ht_over_H0").get<double>();
      EXPECT_NEAR(left / expected, 1, 1e-12) << one;
      EXPECT_NEAR((1 - left) / one.at("F").get<double>(), 1, 1e-12) << one;
      EXPECT_NEAR(HeterozygosityLeft(size, 1), 1 - InbreedingRate(size), 1e-15) << one;
    } else if (one.contains("Nm")) {
      EXPECT_NEAR(EffectiveSizeOfSexes(one.at("Nm").get<double>(), one.at("Nf").get<double>()),
                  one.at("Ne").get<double>(), 1e-12)
          << one;
    } else {
      const auto sizes = one.at("sizes").get<std::vector<double>>();
      EXPECT_NEAR(EffectiveSizeOverGenerations(sizes) / one.at("Ne_harmonic").get<double>(), 1,
                  1e-12)
          << one;
    }
    ++checked;
  }
  EXPECT_EQ(checked, 17U);
}

TEST(EffectiveSize, IsNothingWithoutOneOfTheSexes) {
  EXPECT_EQ(EffectiveSizeOfSexes(0, 12), 0);
  EXPECT_EQ(EffectiveSizeOfSexes(3, 0), 0);
  EXPECT_EQ(EffectiveSizeOverGenerations({}), 0);
}

}  // namespace
}  // namespace broodpact::kinship
