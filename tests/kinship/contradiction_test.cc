// Goal: what cannot be is named with its facts, and nothing else is. Method: examples.

#include "client/kinship/contradiction.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace broodpact::kinship {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;

DaySpan Span(const char* text) {
  const auto span = ParseDaySpan(text);
  EXPECT_TRUE(span.ok()) << text;
  return span.value_or(DaySpan{});
}

TEST(Contradictions, AreNoneInASoundPedigree) {
  const std::vector<Parents> animals{{}, {}, {0, 1}, {kUnknown, 1}};
  const std::vector<Life> lives{{.sex = Sex::kMale, .hatching = Span("2019")},
                                {.sex = Sex::kFemale, .hatching = Span("2018-05-01")},
                                {.hatching = Span("2021")},
                                {}};
  EXPECT_THAT(ContradictionsIn(animals, lives), IsEmpty());
}

TEST(Contradictions, NameTheLineOfAnAnimalThatIsItsOwnAncestor) {
  const std::vector<Parents> animals{{}, {0, 2}, {3, kUnknown}, {kUnknown, 1}};
  EXPECT_THAT(
      ContradictionsIn(animals, std::vector<Life>(4)),
      ElementsAre(Contradiction{.fault = Fault::kOwnAncestor, .animal = 1, .line = {1, 2, 3}}));
}

TEST(Contradictions, NameAMaleAsDamAndAFemaleAsSire) {
  const std::vector<Parents> animals{{}, {}, {1, 0}};
  const std::vector<Life> lives{{.sex = Sex::kMale}, {.sex = Sex::kFemale}, {}};
  EXPECT_THAT(ContradictionsIn(animals, lives),
              ElementsAre(Contradiction{.fault = Fault::kFemaleAsSire, .animal = 2, .parent = 1},
                          Contradiction{.fault = Fault::kMaleAsDam, .animal = 2, .parent = 0}));
}

TEST(Contradictions, NameADamThatHatchedAfterHerClutchOnlyWhereItIsCertain) {
  const std::vector<Parents> animals{{}, {kUnknown, 0}};
  const auto found = [&](const char* dam, const char* clutch) {
    return ContradictionsIn(animals,
                            std::vector<Life>{{.hatching = Span(dam)}, {.hatching = Span(clutch)}});
  };
  EXPECT_THAT(
      found("2022-06-02", "2022-06-01"),
      ElementsAre(Contradiction{.fault = Fault::kParentHatchedAfter, .animal = 1, .parent = 0}));
  EXPECT_THAT(found("2022", "2022-06-01"), IsEmpty());  // that year, but perhaps before
  EXPECT_THAT(found("2022-06-01", "2022-06-01"), IsEmpty());
}

TEST(Contradictions, NameAMaleThatMaturedBeforeHeHatched) {
  const std::vector<Life> lives{{.sex = Sex::kMale,
                                 .hatching = Span("2024-03"),
                                 .maturity = Span("2024-02-10"),
                                 .death = Span("2023")}};
  EXPECT_THAT(ContradictionsIn(std::vector<Parents>(1), lives),
              ElementsAre(Contradiction{.fault = Fault::kMaturedBeforeHatching, .animal = 0},
                          Contradiction{.fault = Fault::kDiedBeforeHatching, .animal = 0}));
}

}  // namespace
}  // namespace broodpact::kinship
