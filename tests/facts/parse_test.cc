// Goal: a commit that is wrong in its form is refused, and its author can read why. Method: a good
// message, spoilt in one field at a time; laws for hostile bytes; several faults at once.

#include <functional>
#include <string>
#include <utility>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "broodpact/v1/commit.pb.h"
#include "client/base/status.h"
#include "client/facts/commit.h"
#include "tests/facts/any_statement.h"

namespace broodpact::facts {
namespace {

using ::testing::HasSubstr;

const std::string kId(16, '\1');
const std::string kHash(32, '\2');

v1::DaySpan SomeDay() {
  v1::DaySpan day;
  day.set_earliest_day(20'000);
  day.set_latest_day(20'000);
  return day;
}

// A good commit with a moult, and room for more statements.
v1::Commit Good() {
  v1::Commit commit;
  commit.set_cooperative_id(kHash);
  commit.set_device_id(kId);
  commit.set_incarnation(1);
  commit.set_seq(2);
  commit.set_prev(kHash);
  commit.set_seen_arrivals(5);
  commit.set_seen_hash(kId);
  v1::Moult& moult = *commit.add_statements()->mutable_moult();
  moult.set_animal_id(kId);
  *moult.mutable_day() = SomeDay();
  return commit;
}

v1::Moult& MoultOf(v1::Commit& commit) {
  return *commit.mutable_statements(0)->mutable_moult();
}

absl::Status StatusOf(const v1::Commit& commit) {
  return ParseCommit(commit.SerializeAsString()).status();
}

// The reason why Good() is refused once `spoil` has been at it.
std::string ReasonAfter(const std::function<void(v1::Commit&)>& spoil) {
  v1::Commit commit = Good();
  spoil(commit);
  return ReasonOf(StatusOf(commit));
}

// The same, for one statement of it.
std::string ReasonWith(const std::function<void(v1::Statement&)>& make) {
  return ReasonAfter([&make](v1::Commit& commit) { make(*commit.mutable_statements(0)); });
}

TEST(CommitForm, IsGoodHere) {
  EXPECT_TRUE(StatusOf(Good()).ok()) << StatusOf(Good());
}

TEST(CommitForm, HasItsHeader) {
  using Spoil = std::function<void(v1::Commit&)>;
  const std::vector<Spoil> faults = {
      [](v1::Commit& c) { c.clear_cooperative_id(); },
      [](v1::Commit& c) { c.set_cooperative_id(kId); },
      [](v1::Commit& c) { c.clear_device_id(); },
      [](v1::Commit& c) { c.set_device_id(kHash); },
      [](v1::Commit& c) { c.set_device_id(std::string(16, '\0')); },
      [](v1::Commit& c) { c.set_incarnation(0); },
      [](v1::Commit& c) { c.set_seq(0); },
      [](v1::Commit& c) { c.set_seq(1); },  // a first commit follows on none
      [](v1::Commit& c) { c.clear_prev(); },
      [](v1::Commit& c) { c.set_prev(kId); },
      [](v1::Commit& c) { c.clear_seen_hash(); },
      [](v1::Commit& c) { c.set_seen_hash(kHash); },
      [](v1::Commit& c) { c.set_seen_arrivals(0); },
      [](v1::Commit& c) { c.clear_statements(); },
      [](v1::Commit& c) {
        for (std::size_t i = 0; i < kStatementsMax; ++i) *c.add_statements() = c.statements(0);
      },
  };
  for (std::size_t i = 0; i < faults.size(); ++i) {
    EXPECT_EQ(ReasonAfter(faults[i]), "COMMIT_FORM") << i;
  }
}

TEST(CommitForm, MayHaveAsManyStatementsAsAreAllowed) {
  EXPECT_EQ(ReasonAfter([](v1::Commit& c) {
              for (std::size_t i = 1; i < kStatementsMax; ++i)
                *c.add_statements() = c.statements(0);
            }),
            "");
}

TEST(CommitForm, IsWithoutCooperativeInAFoundingAlone) {
  v1::Commit founding;
  founding.set_device_id(kId);
  founding.set_incarnation(1);
  founding.set_seq(1);
  v1::Founding& statement = *founding.add_statements()->mutable_founding();
  statement.set_name("Brachypelma circle");
  statement.set_keeper_id(kId);
  statement.set_keeper_name("mira");
  statement.set_device_key(kHash);
  EXPECT_TRUE(StatusOf(founding).ok()) << StatusOf(founding);
  *founding.add_statements() = Good().statements(0);
  EXPECT_EQ(ReasonOf(StatusOf(founding)), "COMMIT_FORM");
}

TEST(CommitForm, HasTheIdsThatAStatementNeeds) {
  EXPECT_EQ(ReasonAfter([](v1::Commit& c) { MoultOf(c).clear_animal_id(); }), "COMMIT_FORM");
  EXPECT_EQ(ReasonAfter([](v1::Commit& c) { MoultOf(c).set_animal_id("short"); }), "COMMIT_FORM");
  EXPECT_EQ(ReasonAfter([](v1::Commit& c) { MoultOf(c).set_animal_id(std::string(16, '\0')); }),
            "COMMIT_FORM");
}

TEST(CommitForm, MayLeaveOutTheIdsThatAStatementDoesNotNeed) {
  const auto entry = [](const std::string& sire) {
    return ReasonWith([&sire](v1::Statement& s) {
      v1::AnimalEntry& animal = *s.mutable_animal_entry();
      animal.set_animal_id(kId);
      animal.set_group_id(kId);
      animal.set_name("m");
      animal.set_sire_id(sire);
    });
  };
  EXPECT_EQ(entry(""), "");
  EXPECT_EQ(entry(kId), "");
  EXPECT_EQ(entry(kHash), "COMMIT_FORM");
}

TEST(CommitForm, HasADayWhereOneIsNeededAndWithinTheCalendar) {
  EXPECT_EQ(ReasonAfter([](v1::Commit& c) { MoultOf(c).clear_day(); }), "COMMIT_FORM");
  using Ends = std::pair<int, int>;
  for (const auto& [earliest, latest] : {Ends{20'001, 20'000}, Ends{kDayMin.number - 1, 0},
                                         Ends{0, kDayMax.number + 1}, Ends{INT32_MIN, INT32_MAX}}) {
    EXPECT_EQ(ReasonAfter([earliest = earliest, latest = latest](v1::Commit& c) {
                MoultOf(c).mutable_day()->set_earliest_day(earliest);
                MoultOf(c).mutable_day()->set_latest_day(latest);
              }),
              "DATE_OUT_OF_RANGE")
        << earliest;
  }
}

TEST(CommitForm, HasValuesThatThisVersionKnows) {
  EXPECT_EQ(ReasonAfter([](v1::Commit& c) {
              MoultOf(c).mutable_day()->set_certainty(static_cast<v1::DayCertainty>(4));
            }),
            "COMMIT_FORM");
  const auto role = [](int value) {
    return ReasonWith([value](v1::Statement& s) {
      s.mutable_invitation()->set_invite_key(kHash);
      s.mutable_invitation()->set_role(static_cast<v1::Role>(value));
    });
  };
  EXPECT_EQ(role(v1::ROLE_OBSERVER), "");
  EXPECT_EQ(role(v1::ROLE_UNSPECIFIED), "COMMIT_FORM");
  EXPECT_EQ(role(4), "COMMIT_FORM");
  EXPECT_EQ(role(-1), "COMMIT_FORM");
}

TEST(CommitForm, HasNamesWithinTheirBounds) {
  const auto group = [](const std::string& name, const std::string& taxon) {
    return ReasonWith([&](v1::Statement& s) {
      v1::GroupEntry& entry = *s.mutable_group_entry();
      entry.set_group_id(kId);
      entry.set_name(name);
      entry.set_taxon(taxon);
    });
  };
  EXPECT_EQ(group("hamorii-colima", "Brachypelma hamorii"), "");
  EXPECT_EQ(group("", "Brachypelma hamorii"), "NAME_EMPTY");
  EXPECT_EQ(group("hamorii", ""), "NAME_EMPTY");
  EXPECT_EQ(group(std::string(65, 'x'), "B. hamorii"), "NAME_TOO_LONG");
  EXPECT_EQ(group("hamorii", std::string(129, 'x')), "NAME_TOO_LONG");
  EXPECT_EQ(group("a\nb", "B. hamorii"), "TEXT_MALFORMED");
  EXPECT_EQ(group("a/b", "B. hamorii"), "TEXT_MALFORMED");
  EXPECT_EQ(group("hamorii", "B. hamorii/smithi"), "");
}

TEST(CommitForm, HasCountsWithinTheirBounds) {
  const auto loss = [](std::uint32_t slings) {
    return ReasonWith([slings](v1::Statement& s) {
      v1::LotLoss& lost = *s.mutable_lot_loss();
      lost.set_lot_id(kId);
      lost.set_slings(slings);
      *lost.mutable_day() = SomeDay();
    });
  };
  EXPECT_EQ(loss(0), "COUNT_OUT_OF_RANGE");
  EXPECT_EQ(loss(1), "");
  EXPECT_EQ(loss(kSlingsMax), "");
  EXPECT_EQ(loss(kSlingsMax + 1), "COUNT_OUT_OF_RANGE");
}

TEST(CommitForm, HasARegionOfTwoCapitalsOrNone) {
  const auto joining = [](const std::string& region) {
    return ReasonWith([&region](v1::Statement& s) {
      v1::Joining& joins = *s.mutable_joining();
      joins.set_invite_key(kHash);
      joins.set_keeper_id(kId);
      joins.set_keeper_name("iva");
      joins.set_device_key(kHash);
      joins.set_invite_signature(std::string(64, 's'));
      joins.set_region(region);
    });
  };
  EXPECT_EQ(joining(""), "");
  EXPECT_EQ(joining("CZ"), "");
  for (const char* region : {"cz", "C", "CZE", "C1", "\xc3\x81"}) {
    EXPECT_EQ(joining(region), "REGION_SYNTAX") << region;
  }
}

TEST(CommitForm, StatesAgainOneCommitAndNoRestatement) {
  const auto again = [](const std::string& commit) {
    return ReasonWith([&commit](v1::Statement& s) {
      s.mutable_restatement()->set_commit(commit);
      s.mutable_restatement()->set_signature(std::string(64, 's'));
    });
  };
  CommitHeader header{.cooperative = Sha256("cooperative"), .device = {}};
  header.device.bytes.fill(1);
  GroupEntry group{.name = "hamorii-colima", .taxon = "Brachypelma hamorii"};
  group.group.bytes.fill(1);
  const std::string commit = BuildCommit(header, {group});
  EXPECT_EQ(again(commit), "");
  EXPECT_EQ(again(""), "COMMIT_FORM");
  EXPECT_EQ(again(commit.substr(1)), "COMMIT_FORM");
  EXPECT_EQ(again(std::string(kOwnCommitBytesMax + 1, 'x')), "COMMIT_FORM");
  Restatement within{.commit = commit};
  within.signature.fill(1);
  EXPECT_EQ(again(BuildCommit(header, {within})), "COMMIT_FORM");
}

TEST(CommitForm, HasALotForEveryShareWithSlingsAndForNoOther) {
  const auto split = [](std::uint32_t slings, const std::string& lot, int shares) {
    return ReasonWith([&](v1::Statement& s) {
      v1::SplitRecord& record = *s.mutable_split_record();
      record.set_clutch_id(kId);
      record.set_count_token(kId);
      for (int i = 0; i < shares; ++i) {
        v1::SplitShare& share = *record.add_shares();
        share.set_keeper_id(kId);
        share.set_slings(slings);
        share.set_lot_id(lot);
      }
    });
  };

  EXPECT_EQ(split(0, "", 1), "");
  EXPECT_EQ(split(5, "", 1), "COMMIT_FORM");
  EXPECT_EQ(split(0, kId, 1), "COMMIT_FORM");
  EXPECT_EQ(split(5, kId, 0), "COMMIT_FORM");
  EXPECT_EQ(split(5, kId, 32), "");
  EXPECT_EQ(split(5, kId, 33), "COMMIT_FORM");
}

TEST(CommitForm, PassesOnWhyAnAgreementIsRefused) {
  EXPECT_EQ(ReasonWith([](v1::Statement& s) { s.mutable_loan_proposal()->set_agreement("x"); }),
            "AGREEMENT_FORM");
}

// Kinds of newer versions: kept with their subjects, whatever is in them.
TEST(UnknownKind, KeepsTheSubjectsThatItNames) {
  v1::Commit commit = Good();
  v1::Statement& newer = *commit.add_statements();
  newer.add_subject_ids(kId);
  newer.add_subject_ids(std::string(16, '\3'));
  newer.GetReflection()->MutableUnknownFields(&newer)->AddLengthDelimited(9999, "from the future");
  const Commit parsed = ParseCommit(commit.SerializeAsString()).value();
  const auto* const unknown = std::get_if<Unknown>(&parsed.statements[1]);
  ASSERT_NE(unknown, nullptr);
  ASSERT_EQ(unknown->subjects.size(), 2U);
  EXPECT_EQ(unknown->subjects[1][15], 3);

  newer.add_subject_ids("short");
  EXPECT_EQ(ReasonOf(StatusOf(commit)), "COMMIT_FORM");
  newer.clear_subject_ids();
  for (int i = 0; i < 17; ++i) newer.add_subject_ids(kId);
  EXPECT_EQ(ReasonOf(StatusOf(commit)), "COMMIT_FORM");
}

TEST(UnknownKind, MayNameNoSubject) {
  v1::Commit commit = Good();
  v1::Statement& newer = *commit.add_statements();
  newer.GetReflection()->MutableUnknownFields(&newer)->AddLengthDelimited(9999, "from the future");
  const auto parsed = ParseCommit(commit.SerializeAsString());
  ASSERT_TRUE(parsed.ok()) << parsed.status();
  const auto* const unknown = std::get_if<Unknown>(&parsed->statements[1]);
  ASSERT_NE(unknown, nullptr);
  EXPECT_TRUE(unknown->subjects.empty());
}

// A program that knows both takes the last of them: for this one it is neither.
TEST(UnknownKind, BesideAKnownOneIsUnknown) {
  v1::Commit commit = Good();
  v1::Statement& both = *commit.mutable_statements(0);
  both.GetReflection()->MutableUnknownFields(&both)->AddLengthDelimited(9999, "from the future");
  const auto parsed = ParseCommit(commit.SerializeAsString());
  ASSERT_TRUE(parsed.ok()) << parsed.status();
  EXPECT_TRUE(std::holds_alternative<Unknown>(parsed->statements[0]));
}

TEST(UnknownField, OfAKnownKindIsTolerated) {
  EXPECT_EQ(ReasonAfter([](v1::Commit& c) {
              MoultOf(c).GetReflection()->MutableUnknownFields(&MoultOf(c))->AddVarint(99, 1);
              c.GetReflection()->MutableUnknownFields(&c)->AddVarint(99, 1);
            }),
            "");
}

TEST(CommitBytes, AreBoundedAndMustBeAMessage) {
  EXPECT_EQ(ReasonOf(ParseCommit(std::string(kCommitBytesMax + 1, 'x')).status()),
            "COMMIT_TOO_LONG");
  for (const std::string& bytes : {std::string(), std::string("no commit"), std::string(64, '\xff'),
                                   Good().SerializeAsString() + '\x0a'}) {
    EXPECT_EQ(ReasonOf(ParseCommit(bytes).status()), "COMMIT_FORM");
  }
}

// A group in a group in a group, in a field that nobody knows.
TEST(CommitBytes, AreNotFollowedIntoEndlessNesting) {
  const std::string nested(kCommitBytesMax / 2, '\x7b');  // field 15, a group begins
  EXPECT_EQ(ReasonOf(ParseCommit(nested).status()), "COMMIT_FORM");
  EXPECT_EQ(ReasonOf(ParseCommit(Good().SerializeAsString() + nested).status()), "COMMIT_FORM");
}

// Replaces the only `old` in the bytes by as many other bytes.
std::string Replaced(std::string bytes, const std::string& old, const std::string& with) {
  return bytes.replace(bytes.find(old), old.size(), with);
}

TEST(CommitBytes, SayWhichTextIsNotUtf8AndPrintNothing) {
  v1::Commit commit = Good();
  v1::AnimalEntry& animal = *commit.add_statements()->mutable_animal_entry();
  animal.set_animal_id(kId);
  animal.set_group_id(kId);
  animal.set_name("mirabel");
  const std::string bytes = Replaced(commit.SerializeAsString(), "mirabel", "mira\xff\xfel");
  testing::internal::CaptureStderr();
  const absl::Status status = ParseCommit(bytes).status();
  EXPECT_EQ(testing::internal::GetCapturedStderr(), "");
  EXPECT_EQ(ReasonOf(status), "TEXT_MALFORMED");
  EXPECT_THAT(std::string(status.message()), HasSubstr("statement 2, animal entry, name"));
}

TEST(Faults, AreReportedInTheOrderOfTheHeaderWhateverComesFirst) {
  v1::Commit commit = Good();
  v1::Founding& founding = *commit.add_statements()->mutable_founding();
  founding.set_region("cz");
  const auto reason = [&commit] { return ReasonOf(StatusOf(commit)); };
  EXPECT_EQ(reason(), "COMMIT_FORM");  // no keeper
  founding.set_keeper_id(kId);
  founding.set_device_key(kHash);
  EXPECT_EQ(reason(), "NAME_EMPTY");
  founding.set_name(std::string(65, 'x'));
  founding.set_keeper_name("mira ");
  EXPECT_EQ(reason(), "NAME_TOO_LONG");
  founding.set_name("circle");
  EXPECT_EQ(reason(), "TEXT_MALFORMED");
  founding.set_keeper_name("mira");
  EXPECT_EQ(reason(), "REGION_SYNTAX");
  MoultOf(commit).mutable_day()->set_earliest_day(INT32_MAX);
  EXPECT_EQ(reason(), "DATE_OUT_OF_RANGE");
}

TEST(Faults, NameTheStatementItsKindAndTheField) {
  v1::Commit commit = Good();
  *commit.add_statements() = commit.statements(0);
  commit.mutable_statements(1)->mutable_moult()->set_animal_id("short");
  EXPECT_EQ(std::string(StatusOf(commit).message()),
            "statement 2 (moult): the animal has 5 bytes instead of 16");
  EXPECT_EQ(StatusOf(commit).code(), absl::StatusCode::kInvalidArgument);
}

RC_GTEST_PROP(CommitBytes, OfAnyKindNeverCrashTheReader, (const std::string& bytes)) {
  const auto commit = ParseCommit(bytes);
  RC_ASSERT(commit.ok() || !ReasonOf(commit.status()).empty());
}

RC_GTEST_PROP(CommitBytes, SpoiltAnywhereAreReadOrRefusedWithAReason, ()) {
  CommitHeader header = {.cooperative = *AnyBytes<Hash>(), .device = *AnyIdOf<DeviceId>()};
  std::string bytes = BuildCommit(header, {*AnyStatement()});
  const auto spoils = *rc::gen::inRange(1, 4);
  for (int i = 0; i < spoils; ++i) {
    bytes[*rc::gen::inRange<std::size_t>(0, bytes.size())] =
        *rc::gen::element('\0', '\1', '\x12', '\x7f', '\x80', '\xff');
  }
  const auto commit = ParseCommit(bytes);
  RC_ASSERT(commit.ok() || !ReasonOf(commit.status()).empty());
}

}  // namespace
}  // namespace broodpact::facts
