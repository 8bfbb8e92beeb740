// Goal: a name that somebody types finds what they mean, and otherwise the candidates.
// Method: three keepers who give their animals the same names.

#include <gmock/gmock.h>

#include "client/base/status.h"
#include "client/replica/view.h"
#include "tests/replica/testing/society.h"

namespace broodpact::replica {
namespace {

using testing::AddAnimal;
using testing::AddGroup;
using ::testing::AllOf;
using ::testing::HasSubstr;
using ::testing::Not;
using testing::On;

class Names : public ::testing::Test {
 protected:
  Names() {
    society_.Found("mira", "CZ");
    society_.Enter("tomas", "DE");
    society_.Enter("iva", "CZ");
    group_ = AddGroup(society_, "mira", "hamorii-colima");
    society_.Deliver();
  }

  AnimalId Add(const std::string& keeper, const std::string& name) {
    return AddAnimal(society_, keeper, {.group = group_, .name = name});
  }

  std::string MessageOf(const absl::Status& status) { return std::string(status.message()); }

  testing::Society society_;
  GroupId group_;
};

TEST_F(Names, FindOnesOwnAnimalBeforeNamesakesOfOthers) {
  const AnimalId mine = Add("mira", "rosa");
  const AnimalId theirs = Add("tomas", "rosa");
  society_.Deliver();
  EXPECT_EQ(*society_.ViewOf("mira").AnimalNamed("rosa"), mine);
  EXPECT_EQ(*society_.ViewOf("tomas").AnimalNamed("rosa"), theirs);
}

TEST_F(Names, MeanTheSameInWhateverCase) {
  const AnimalId rosa = Add("mira", "Rosa-7");
  EXPECT_EQ(*society_.ViewOf("mira").AnimalNamed("rOSA-7"), rosa);
}

TEST_F(Names, FindTheOnlyOneOfAnother) {
  const AnimalId rosa = Add("tomas", "rosa");
  society_.Deliver();
  EXPECT_EQ(*society_.ViewOf("mira").AnimalNamed("rosa"), rosa);
}

TEST_F(Names, AreAmbiguousAmongOthersAndListThem) {
  const AnimalId first = Add("mira", "rosa");
  const AnimalId second = Add("tomas", "rosa");
  society_.Deliver();
  const absl::Status status = society_.ViewOf("iva").AnimalNamed("rosa").status();
  EXPECT_EQ(status.code(), absl::StatusCode::kInvalidArgument);
  EXPECT_EQ(ReasonOf(status), "AMBIGUOUS_SUBJECT");
  EXPECT_THAT(MessageOf(status),
              AllOf(HasSubstr("mira/rosa (" + ToShortText(first) + ")"),
                    HasSubstr("tomas/rosa (" + ToShortText(second) + ")"), HasSubstr("say which")));
}

TEST_F(Names, AreTakenWithTheirKeeper) {
  const AnimalId first = Add("mira", "rosa");
  const AnimalId second = Add("tomas", "rosa");
  society_.Deliver();
  const View view = society_.ViewOf("iva");
  EXPECT_EQ(*view.AnimalNamed("mira/rosa"), first);
  EXPECT_EQ(*view.AnimalNamed("TOMAS/rosa"), second);
  EXPECT_EQ(ReasonOf(view.AnimalNamed("iva/rosa").status()), "UNKNOWN_SUBJECT");
  EXPECT_EQ(ReasonOf(view.AnimalNamed("nobody/rosa").status()), "UNKNOWN_SUBJECT");
}

TEST_F(Names, MeanTheLivingOneOfTwoOfTheSameKeeper) {
  const AnimalId dead = Add("mira", "rosa");
  ASSERT_TRUE(
      society_.At("mira").Act({facts::Death{.animal = dead, .day = On("2026-11-20")}}).ok());
  EXPECT_EQ(*society_.ViewOf("mira").AnimalNamed("rosa"), dead);
  const AnimalId living = Add("mira", "rosa");
  EXPECT_EQ(*society_.ViewOf("mira").AnimalNamed("rosa"), living);
}

TEST_F(Names, MayBeTheBeginningOfAnId) {
  const AnimalId rosa = Add("mira", "rosa");
  for (int i = 0; i < 30; ++i) Add("mira", "other-" + std::to_string(i));
  const View view = society_.ViewOf("mira");
  EXPECT_EQ(*view.AnimalNamed(ToText(rosa)), rosa);
  EXPECT_EQ(*view.AnimalNamed(ToShortText(rosa)), rosa);
  EXPECT_EQ(ReasonOf(view.AnimalNamed(ToText(rosa).substr(0, 3)).status()), "UNKNOWN_SUBJECT");
}

TEST_F(Names, AreAmbiguousWhereTwoIdsBeginSo) {
  AnimalId first;
  AnimalId second;
  first.bytes.fill(7);
  second.bytes.fill(7);
  second.bytes[15] = 9;
  for (const AnimalId& id : {first, second}) {
    ASSERT_TRUE(
        society_.At("mira")
            .Act({facts::AnimalEntry{.animal = id, .group = group_, .name = ToText(id).substr(20)}})
            .ok());
  }
  const View view = society_.ViewOf("mira");
  EXPECT_EQ(ReasonOf(view.AnimalNamed(ToShortText(first)).status()), "AMBIGUOUS_SUBJECT");
  EXPECT_EQ(*view.AnimalNamed(ToText(first)), first);
  EXPECT_EQ(*view.AnimalNamed(ToText(second)), second);
}

TEST_F(Names, FindTheFirstIdOfAllByItsBeginning) {
  AnimalId first;
  first.bytes[15] = 1;
  ASSERT_TRUE(society_.At("mira")
                  .Act({facts::AnimalEntry{.animal = first, .group = group_, .name = "eve"}})
                  .ok());
  EXPECT_EQ(*society_.ViewOf("mira").AnimalNamed("aaaaaaaa"), first);
}

TEST_F(Names, ThatAreUnknownListTheNearest) {
  Add("mira", "rosa-1");
  Add("mira", "rosa-2");
  Add("mira", "bruno");
  const absl::Status status = society_.ViewOf("mira").AnimalNamed("rosamunde").status();
  EXPECT_EQ(status.code(), absl::StatusCode::kNotFound);
  EXPECT_EQ(ReasonOf(status), "UNKNOWN_SUBJECT");
  EXPECT_THAT(MessageOf(status), AllOf(HasSubstr("'rosamunde'"), HasSubstr("mira/rosa-1"),
                                       HasSubstr("mira/rosa-2"), Not(HasSubstr("bruno"))));
}

TEST_F(Names, ListFiveCandidatesAtMost) {
  for (int i = 0; i < 8; ++i) Add("mira", "rosa-" + std::to_string(i));
  const std::string message = MessageOf(society_.ViewOf("mira").AnimalNamed("rosa").status());
  EXPECT_THAT(message, AllOf(HasSubstr("rosa-0"), HasSubstr("rosa-4"), Not(HasSubstr("rosa-5"))));
}

TEST_F(Names, FindNothingForAnEmptyText) {
  EXPECT_EQ(ReasonOf(society_.ViewOf("mira").AnimalNamed("").status()), "UNKNOWN_SUBJECT");
  EXPECT_EQ(ReasonOf(society_.ViewOf("mira").AnimalNamed("/").status()), "UNKNOWN_SUBJECT");
  EXPECT_EQ(ReasonOf(society_.ViewOf("mira").AnimalNamed("mira/").status()), "UNKNOWN_SUBJECT");
}

TEST_F(Names, OfKeepersAndGroupsAreUnique) {
  const View view = society_.ViewOf("mira");
  EXPECT_EQ(*view.KeeperNamed("Tomas"), society_.IdOf("tomas"));
  EXPECT_EQ(*view.GroupNamed("hamorii-colima"), group_);
  EXPECT_EQ(ReasonOf(view.GroupNamed("mira").status()), "UNKNOWN_SUBJECT");
}

}  // namespace
}  // namespace broodpact::replica
