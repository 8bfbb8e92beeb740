// Goal: what is stated about sealed text is within its bounds, or refused with the field that is
// wrong; and older programs are told which notes to hold still. Method: a good statement, spoilt in
// one field at a time. That all kinds read back is CommitBytes' and Commit's.

#include "client/facts/sealed.h"

#include <functional>
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "broodpact/v1/commit.pb.h"
#include "client/base/status.h"
#include "client/facts/commit.h"

namespace broodpact::facts {
namespace {

using ::testing::HasSubstr;

const std::string kNoteBytes(16, '\1');
const std::string kKeyBytes(32, '\2');

v1::Commit GoodNote() {
  v1::Commit commit;
  commit.set_cooperative_id(kKeyBytes);
  commit.set_device_id(kNoteBytes);
  commit.set_incarnation(1);
  commit.set_seq(2);
  commit.set_prev(kKeyBytes);
  v1::Statement& statement = *commit.add_statements();
  statement.add_subject_ids(kNoteBytes);
  v1::SealedEntry& entry = *statement.mutable_sealed_entry();
  entry.set_note_id(kNoteBytes);
  entry.set_subject(v1::SEALED_SUBJECT_ANIMAL);
  entry.set_subject_id(kNoteBytes);
  entry.set_field(v1::SEALED_FIELD_LOCALITY);
  entry.set_sealed("envelope");
  return commit;
}

// What is wrong with a good note once `spoil` has been at it; nothing: it is read.
std::string WrongAfter(const std::function<void(v1::SealedEntry&)>& spoil) {
  v1::Commit commit = GoodNote();
  spoil(*commit.mutable_statements(0)->mutable_sealed_entry());
  const absl::Status status = ParseCommit(commit.SerializeAsString()).status();
  if (status.ok()) return "";
  EXPECT_TRUE(ReasonOf(status) == "COMMIT_FORM" || ReasonOf(status) == "DATE_OUT_OF_RANGE");
  return std::string(status.message());
}

TEST(SealedNotes, HaveASubjectAFieldAndAnEnvelope) {
  EXPECT_EQ(WrongAfter([](auto&) {}), "");
  EXPECT_THAT(WrongAfter([](auto& e) { e.clear_note_id(); }), HasSubstr("the note"));
  EXPECT_THAT(WrongAfter([](auto& e) { e.clear_subject(); }), HasSubstr("kind of subject"));
  EXPECT_THAT(WrongAfter([](auto& e) { e.set_subject_id("short"); }), HasSubstr("the subject"));
  EXPECT_THAT(WrongAfter([](auto& e) { e.clear_field(); }), HasSubstr("field"));
  EXPECT_THAT(WrongAfter([](auto& e) { e.clear_sealed(); }), HasSubstr("envelope"));
}

TEST(SealedNotes, HaveNoFieldOrSubjectThatThisVersionDoesNotKnow) {
  EXPECT_THAT(WrongAfter([](auto& e) { e.set_field(static_cast<v1::SealedField>(5)); }),
              HasSubstr("field"));
  EXPECT_THAT(WrongAfter([](auto& e) { e.set_subject(static_cast<v1::SealedSubject>(6)); }),
              HasSubstr("kind of subject"));
}

TEST(SealedNotes, AreTakenBackByAnEmptyEnvelopeThatReplacesSome) {
  EXPECT_EQ(WrongAfter([](auto& e) {
              e.clear_sealed();
              e.add_replaced_note_ids(kNoteBytes);
            }),
            "");
}

TEST(SealedNotes, AreBounded) {
  const auto long_envelope = [](auto& e) { e.set_sealed(std::string(kEnvelopeBytesMax + 1, 'x')); };
  EXPECT_THAT(WrongAfter(long_envelope), HasSubstr("envelope"));
  EXPECT_EQ(WrongAfter([](auto& e) { e.set_sealed(std::string(kEnvelopeBytesMax, 'x')); }), "");
  EXPECT_THAT(WrongAfter([](auto& e) {
                for (int i = 0; i <= kReadersMax; ++i) e.add_reader_ids(kNoteBytes);
              }),
              HasSubstr("reader"));
  EXPECT_THAT(WrongAfter([](auto& e) {
                for (int i = 0; i <= kNotesReplacedMax; ++i) e.add_replaced_note_ids(kNoteBytes);
              }),
              HasSubstr("replaced"));
  EXPECT_THAT(WrongAfter([](auto& e) { e.add_reader_ids("short"); }), HasSubstr("reader"));
  EXPECT_THAT(WrongAfter([](auto& e) { e.set_until_day(INT32_MAX); }), HasSubstr("last day"));
}

TEST(SealingKeys, AreOf32BytesThatAreNotZeros) {
  v1::Commit commit = GoodNote();
  v1::SealingKeyEntry& entry = *commit.mutable_statements(0)->mutable_sealing_key_entry();
  for (const std::string& key : {std::string(), kNoteBytes, std::string(32, '\0')}) {
    entry.set_sealing_key(key);
    EXPECT_EQ(ReasonOf(ParseCommit(commit.SerializeAsString()).status()), "COMMIT_FORM");
  }
  entry.set_sealing_key(kKeyBytes);
  EXPECT_TRUE(ParseCommit(commit.SerializeAsString()).ok());
}

TEST(Resealings, NameWhatTheyWereMadeFrom) {
  v1::Commit commit = GoodNote();
  v1::Resealing& resealing = *commit.mutable_statements(0)->mutable_resealing();
  resealing.set_note_id(kNoteBytes);
  resealing.set_sealed("envelope");
  EXPECT_EQ(ReasonOf(ParseCommit(commit.SerializeAsString()).status()), "COMMIT_FORM");
  resealing.set_copy_token(kNoteBytes);
  EXPECT_TRUE(ParseCommit(commit.SerializeAsString()).ok());
  resealing.clear_sealed();
  EXPECT_EQ(ReasonOf(ParseCommit(commit.SerializeAsString()).status()), "COMMIT_FORM");
}

// An older program would refuse every moult of an animal whose id stood there, for the sake of a
// text that it cannot read.
TEST(SealedNotes, TellOlderProgramsToHoldTheNoteStillAndNotItsSubject) {
  SealedEntry entry{.kind = SealedSubject::kAnimal, .field = SealedField::kNote, .sealed = "x"};
  entry.note.bytes.fill(1);
  entry.subject.fill(2);
  Resealing resealing{.note = entry.note, .sealed = "x"};
  resealing.copy_token.bytes.fill(3);
  v1::Commit message;
  ASSERT_TRUE(message.ParseFromString(
      BuildCommit({.cooperative = Sha256("cooperative")},
                  {entry, resealing, SealingKeyEntry{.key = Sha256("key")}})));
  EXPECT_THAT(message.statements(0).subject_ids(), ::testing::ElementsAre(kNoteBytes));
  EXPECT_THAT(message.statements(1).subject_ids(), ::testing::ElementsAre(kNoteBytes));
  EXPECT_TRUE(message.statements(2).subject_ids().empty());
}

}  // namespace
}  // namespace broodpact::facts
