// Goal: sealed text is written by whom its subject's field is, brought to further devices by those
// whom it is for, and changes nothing else; no envelope is opened by the fold. Method: four
// keepers, envelopes of any bytes.

#include "client/registry/sealed.h"

#include "gtest/gtest.h"

#include "client/registry/index.h"
#include "tests/registry/society.h"

namespace broodpact::registry {
namespace {

using facts::SealedField;
using facts::SealedSubject;

class Sealed : public testing::Test {
 protected:
  Sealed() : male_(world_.Enter(world_.mira, "m", facts::Sex::kMale)) {}

  facts::SealedEntry Note(SealedSubject kind, const IdBytes& subject, SealedField field) {
    return {.note = world_.NewId<SealedNoteId>(),
            .kind = kind,
            .subject = subject,
            .field = field,
            .sealed = "envelope"};
  }
  facts::SealedEntry OfMale(SealedField field) {
    return Note(SealedSubject::kAnimal, male_.bytes, field);
  }
  // Stated by mira; it has to count.
  facts::SealedEntry Written(facts::SealedEntry entry) {
    EXPECT_EQ(world_.Say(world_.mira, {entry}), "counted");
    return entry;
  }
  SealedNote Known(const facts::SealedEntry& entry) {
    const SealedNote* note = world_.state().Find<SealedNote>(entry.note);
    EXPECT_NE(note, nullptr);
    return note != nullptr ? *note : SealedNote{};
  }
  std::size_t StandingAbout(const IdBytes& subject) {
    return world_.Flush().IndexEntries(SealedNotesAbout(subject), 100)->size();
  }

  Society society_;
  World& world_ = society_.world;
  AnimalId male_;
};

TEST_F(Sealed, ALocalityAndAPriceAreWrittenByTheOwnerOfTheAnimal) {
  EXPECT_EQ(world_.Say(world_.mira, {OfMale(SealedField::kLocality)}), "counted");
  EXPECT_EQ(world_.Say(world_.mira, {OfMale(SealedField::kPrice)}), "counted");
  EXPECT_EQ(world_.Say(world_.bela, {OfMale(SealedField::kLocality)}), "void NOT_YOURS_TO_SEAL");
  EXPECT_EQ(world_.Say(world_.bela, {OfMale(SealedField::kPrice)}), "void NOT_YOURS_TO_SEAL");
  EXPECT_EQ(StandingAbout(male_.bytes), 2U);
}

TEST_F(Sealed, ANoteIsWrittenByOwnerOrHolder) {
  const LoanId loan = world_.Lend(world_.mira, world_.tomas, male_);
  ASSERT_EQ(
      world_.Say(world_.mira, {facts::Dispatch{.loan = loan,
                                               .receiver = world_.tomas.id,
                                               .holder_token = world_.animal(male_).holder_token,
                                               .day = On("2026-05-01")}}),
      "counted");
  ASSERT_EQ(world_.Say(world_.tomas, {facts::Receipt{.loan = loan, .day = On("2026-05-02")}}),
            "counted");
  EXPECT_EQ(world_.Say(world_.tomas, {OfMale(SealedField::kNote)}), "counted");
  EXPECT_EQ(world_.Say(world_.mira, {OfMale(SealedField::kNote)}), "counted");
  EXPECT_EQ(world_.Say(world_.tomas, {OfMale(SealedField::kLocality)}), "void NOT_YOURS_TO_SEAL");
  EXPECT_EQ(world_.Say(world_.bela, {OfMale(SealedField::kNote)}), "void NOT_YOURS_TO_SEAL");
}

TEST_F(Sealed, AnAddressIsWrittenByTheKeeperWhoseItIs) {
  const auto address = [&] {
    return Note(SealedSubject::kKeeper, world_.mira.id.bytes, SealedField::kAddress);
  };
  EXPECT_EQ(world_.Say(world_.tomas, {address()}), "void NOT_YOURS_TO_SEAL");
  EXPECT_EQ(world_.Say(world_.mira, {address()}), "counted");
}

TEST_F(Sealed, APriceOfALoanIsWrittenByItsParties) {
  const LoanId loan = world_.Lend(world_.mira, world_.tomas, male_);
  const auto price = [&] { return Note(SealedSubject::kLoan, loan.bytes, SealedField::kPrice); };
  EXPECT_EQ(world_.Say(world_.mira, {price()}), "counted");
  EXPECT_EQ(world_.Say(world_.tomas, {price()}), "counted");
  EXPECT_EQ(world_.Say(world_.bela, {price()}), "void NOT_YOURS_TO_SEAL");
}

TEST_F(Sealed, TheLocalityOfAGroupIsWrittenByWhoEnteredIt) {
  const auto locality = [&] {
    return Note(SealedSubject::kGroup, world_.group.bytes, SealedField::kLocality);
  };
  const KeeperId by = world_.state().Find<Group>(world_.group)->entry.keeper;
  ASSERT_EQ(by, world_.mira.id);
  EXPECT_EQ(world_.Say(world_.mira, {locality()}), "counted");
  EXPECT_EQ(world_.Say(world_.bela, {locality()}), "void NOT_YOURS_TO_SEAL");
}

TEST_F(Sealed, APriceOfAClutchIsWrittenByItsOwnerAndANoteByWhoHasItToo) {
  const AnimalId female = world_.Enter(world_.tomas, "f", facts::Sex::kFemale);
  const ClutchId clutch = world_.Lay(world_.tomas, female);
  const auto of = [&](SealedField field) {
    return Note(SealedSubject::kClutch, clutch.bytes, field);
  };
  EXPECT_EQ(world_.Say(world_.tomas, {of(SealedField::kPrice)}), "counted");
  EXPECT_EQ(world_.Say(world_.tomas, {of(SealedField::kNote)}), "counted");
  EXPECT_EQ(world_.Say(world_.mira, {of(SealedField::kNote)}), "void NOT_YOURS_TO_SEAL");
}

TEST_F(Sealed, WhatASubjectHasNotIsRefused) {
  EXPECT_EQ(world_.Say(world_.mira, {OfMale(SealedField::kAddress)}), "refused FIELD_OTHER");
  EXPECT_EQ(world_.Say(world_.mira,
                       {Note(SealedSubject::kGroup, world_.group.bytes, SealedField::kPrice)}),
            "refused FIELD_OTHER");
  EXPECT_EQ(world_.Say(world_.mira, {Note(SealedSubject::kAnimal, Numbered<AnimalId>(9).bytes,
                                          SealedField::kNote)}),
            "refused UNKNOWN_SUBJECT");
}

TEST_F(Sealed, ANoteIsNewAndForKeepers) {
  const facts::SealedEntry first = Written(OfMale(SealedField::kNote));
  EXPECT_EQ(world_.Say(world_.mira, {first}), "refused ID_TAKEN");
  facts::SealedEntry to_nobody = OfMale(SealedField::kNote);
  to_nobody.readers = {Numbered<KeeperId>(9)};
  EXPECT_EQ(world_.Say(world_.mira, {to_nobody}), "refused UNKNOWN_SUBJECT");
}

TEST_F(Sealed, ANoteReplacesOwnOnesOfTheSameFieldAlone) {
  const facts::SealedEntry first = Written(OfMale(SealedField::kNote));
  facts::SealedEntry other_field = OfMale(SealedField::kPrice);
  other_field.replaced = {first.note};
  EXPECT_EQ(world_.Say(world_.mira, {other_field}), "refused NOTE_OTHER");
  facts::SealedEntry second = OfMale(SealedField::kNote);
  second.replaced = {first.note};
  EXPECT_EQ(world_.Say(world_.mira, {second}), "counted");
  EXPECT_EQ(Known(first).state, NoteState::kReplaced);
  EXPECT_TRUE(Known(first).copies.empty());
  EXPECT_EQ(StandingAbout(male_.bytes), 1U);
  // Tomas, whose the male becomes, leaves what mira wrote to her.
  const Animal male = world_.animal(male_);
  ASSERT_EQ(world_.Say(world_.mira, {facts::Gift{.animal = male_,
                                                 .receiver = world_.tomas.id,
                                                 .owner_token = male.owner_token,
                                                 .holder_token = male.holder_token}}),
            "counted");
  facts::SealedEntry of_tomas = OfMale(SealedField::kNote);
  of_tomas.replaced = {second.note};
  EXPECT_EQ(world_.Say(world_.tomas, {of_tomas}), "void NOT_YOUR_NOTE");
}

TEST_F(Sealed, OfTwoThatReplaceOneBothStandUntilOneReplacesBoth) {
  const facts::SealedEntry first = Written(OfMale(SealedField::kNote));
  facts::SealedEntry here = OfMale(SealedField::kNote);
  facts::SealedEntry there = OfMale(SealedField::kNote);
  here.replaced = there.replaced = {first.note};
  EXPECT_EQ(world_.Say(world_.mira, {here}), "counted");
  EXPECT_EQ(world_.Say(world_.mira, {there}), "counted FLAG_NOTE_CONCURRENT");
  EXPECT_TRUE(Known(there).concurrent);
  EXPECT_EQ(StandingAbout(male_.bytes), 2U);
  facts::SealedEntry last = OfMale(SealedField::kNote);
  last.replaced = {here.note, there.note};
  EXPECT_EQ(world_.Say(world_.mira, {last}), "counted");
  EXPECT_EQ(StandingAbout(male_.bytes), 1U);
}

TEST_F(Sealed, AnEmptyEnvelopeTakesBack) {
  const facts::SealedEntry first = Written(OfMale(SealedField::kNote));
  facts::SealedEntry nothing = OfMale(SealedField::kNote);
  nothing.sealed.clear();
  nothing.replaced = {first.note};
  EXPECT_EQ(world_.Say(world_.mira, {nothing}), "counted");
  EXPECT_EQ(Known(first).state, NoteState::kTakenBack);
  EXPECT_EQ(world_.state().Find<SealedNote>(nothing.note), nullptr);
}

TEST_F(Sealed, ADeviceStatesItsKeyAndTheLatestCounts) {
  const auto key_of = [&](const Member& member) -> facts::SealingKeyBytes {
    const SealingKey* key = world_.state().Find<SealingKey>(member.device);
    return key != nullptr ? key->key : facts::SealingKeyBytes{};
  };
  EXPECT_EQ(society_.Say(world_.tomas, {facts::SealingKeyEntry{.key = Sha256("first")}}),
            "counted");
  EXPECT_EQ(key_of(world_.tomas), Sha256("first"));
  EXPECT_EQ(society_.Say(world_.tomas, {facts::SealingKeyEntry{.key = Sha256("second")}}),
            "counted");
  EXPECT_EQ(key_of(world_.tomas), Sha256("second"));
  EXPECT_EQ(key_of(world_.mira), facts::SealingKeyBytes{});
}

TEST_F(Sealed, AnObserverStatesItsKeyAndSealsFurtherButWritesNoNote) {
  ASSERT_EQ(world_.Say(world_.mira, {facts::RoleChange{.keeper = world_.bela.id,
                                                       .role = facts::Role::kObserver}}),
            "counted");
  EXPECT_EQ(world_.Say(world_.bela, {facts::SealingKeyEntry{.key = Sha256("key")}}), "counted");
  EXPECT_EQ(world_.Say(world_.bela,
                       {Note(SealedSubject::kKeeper, world_.bela.id.bytes, SealedField::kAddress)}),
            "void OBSERVER");
  facts::SealedEntry note = OfMale(SealedField::kNote);
  note.readers = {world_.bela.id};
  Written(note);
  EXPECT_EQ(world_.Say(world_.bela, {facts::Resealing{.note = note.note,
                                                      .copy_token = Known(note).copies[0].token,
                                                      .sealed = "further"}}),
            "counted");
}

TEST_F(Sealed, NobodySealsToADeviceThatCeased) {
  const Member field = society_.Admit(world_.tomas, 'f');
  facts::Arrived late = world_.Next(field, {facts::SealingKeyEntry{.key = Sha256("key")}});
  facts::Revocation cut = society_.CutOf(field);
  cut.seq += 1;
  cut.hash = late.commit.hash;
  cut.awaited = {late.commit.hash};
  ASSERT_EQ(society_.Say(world_.tomas, {cut}), "counted");
  late.arrival = world_.arrival() + 1;
  EXPECT_EQ(world_.FoldNext(late), "counted");
  EXPECT_EQ(world_.state().Find<SealingKey>(field.device), nullptr);
}

TEST_F(Sealed, IsSealedFurtherByItsAuthorAndByWhomItIsForAlone) {
  facts::SealedEntry note = OfMale(SealedField::kNote);
  note.readers = {world_.tomas.id};
  Written(note);
  const Token first = Known(note).copies[0].token;
  const auto further = [&](const Token& from, std::string sealed) {
    return facts::Resealing{.note = note.note, .copy_token = from, .sealed = std::move(sealed)};
  };
  EXPECT_EQ(world_.Say(world_.bela, {further(first, "of bela")}), "void NOT_READER");
  EXPECT_EQ(world_.Say(world_.tomas, {further(first, "of tomas")}), "counted");
  EXPECT_EQ(world_.Say(world_.mira, {further(first, "of mira")}), "counted");
  // Each has its own: what a reader makes of it takes nothing from the author or another reader.
  EXPECT_EQ(CopyFor(Known(note), world_.tomas.id)->sealed, "of tomas");
  EXPECT_EQ(CopyFor(Known(note), world_.mira.id)->sealed, "of mira");
  EXPECT_EQ(CopyFor(Known(note), world_.bela.id), nullptr);
  EXPECT_EQ(world_.Say(world_.bela,
                       {facts::Resealing{
                           .note = Numbered<SealedNoteId>(9), .copy_token = first, .sealed = "x"}}),
            "refused UNKNOWN_SUBJECT");
}

TEST_F(Sealed, OfTwoResealingsOfOneEnvelopeTheFirstCountsAndTheOtherChangesNothing) {
  const facts::SealedEntry note = Written(OfMale(SealedField::kNote));
  const Token first = Known(note).copies[0].token;
  const auto further = [&](std::string sealed) {
    return facts::Resealing{.note = note.note, .copy_token = first, .sealed = std::move(sealed)};
  };
  EXPECT_EQ(world_.Say(world_.mira, {further("here")}), "counted");
  EXPECT_EQ(world_.Say(world_.mira, {further("there")}), "counted FLAG_RESEALED_BEFORE");
  EXPECT_EQ(Known(note).copies.at(0).sealed, "here");
  EXPECT_EQ(Known(note).copies.size(), 1U);
}

TEST_F(Sealed, WhatIsTakenBackIsNotSealedFurther) {
  const facts::SealedEntry note = Written(OfMale(SealedField::kNote));
  const Token first = Known(note).copies[0].token;
  facts::SealedEntry nothing = OfMale(SealedField::kNote);
  nothing.sealed.clear();
  nothing.replaced = {note.note};
  ASSERT_EQ(world_.Say(world_.mira, {nothing}), "counted");
  EXPECT_EQ(
      world_.Say(world_.mira,
                 {facts::Resealing{.note = note.note, .copy_token = first, .sealed = "further"}}),
      "counted FLAG_RESEALED_BEFORE");
  EXPECT_TRUE(Known(note).copies.empty());
}

}  // namespace
}  // namespace broodpact::registry
