// Goal: what is sealed opens on the devices of those who may read, new ones of them included, and
// on no other; a device that was cut off gets nothing of what is written later. Method: keepers
// with one or two replicas, and a log without a network.

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "client/base/status.h"
#include "client/device/seal.h"
#include "client/replica/acts_loan.h"
#include "client/replica/acts_member.h"
#include "client/replica/acts_sealed.h"
#include "client/replica/sealed_care.h"
#include "client/replica/sealed_notes.h"
#include "tests/replica/testing/society.h"

namespace broodpact::replica {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;
using ::testing::SizeIs;

constexpr char kPlace[] = "two km north of Xalitla, under the third fig tree";

class SealedText : public ::testing::Test {
 protected:
  void SetUp() override {
    society_.Found("mira", "PL");
    society_.Enter("tomas", "CZ");
    society_.Enter("bela", "HU");
    for (const char* keeper : {"mira", "tomas", "bela"}) {
      EXPECT_TRUE(CareForSealed(society_.At(keeper)).ok());
    }
    group_ = testing::AddGroup(society_, "mira", "hamorii-colima");
    rosa_ = testing::AddAnimal(society_, "mira", {.group = group_, .name = "rosa"});
    milo_ = testing::AddAnimal(society_, "mira",
                               {.group = group_, .name = "milo", .sex = facts::Sex::kMale});
    society_.Deliver();
  }

  // What a sync does for sealed text, and what it stated arrives.
  SealedCare Care(const std::string& keeper) {
    absl::StatusOr<SealedCare> care = CareForSealed(society_.At(keeper));
    EXPECT_TRUE(care.ok()) << care.status();
    society_.Deliver();
    return care.ok() ? *std::move(care) : SealedCare{};
  }

  SealedAt Of(const AnimalId& animal, facts::SealedField field = facts::SealedField::kLocality) {
    return {.kind = facts::SealedSubject::kAnimal, .subject = animal.bytes, .field = field};
  }
  SealedAt AddressOf(const std::string& keeper) {
    return {.kind = facts::SealedSubject::kKeeper,
            .subject = society_.IdOf(keeper).bytes,
            .field = facts::SealedField::kAddress};
  }

  // Writes, and lets it arrive.
  void Write(const std::string& keeper, const SealedAt& at, const std::string& text,
             const Audience& audience = {}) {
    const auto made = WriteSealed(society_.At(keeper), at, text, audience);
    ASSERT_TRUE(made.ok()) << made.status();
    society_.Deliver();
  }

  v1::SealedNoteList NotesAt(const std::string& keeper, const IdBytes& subject) {
    auto list = SealedNotes(society_.At(keeper), subject, Texts::kShown);
    EXPECT_TRUE(list.ok()) << list.status();
    return list.ok() ? *std::move(list) : v1::SealedNoteList();
  }
  // The texts that a keeper's replica shows of a subject.
  std::vector<std::string> TextsAt(const std::string& keeper, const IdBytes& subject) {
    std::vector<std::string> texts;
    const v1::SealedNoteList list = NotesAt(keeper, subject);
    for (const v1::SealedNote& note : list.notes()) {
      if (note.state() == "open") texts.push_back(note.text());
    }
    return texts;
  }

  // A loan of milo from mira to tomas, in force.
  LoanId Lend() {
    facts::Terms terms;
    terms.parties = {{.keeper = society_.IdOf("mira"), .role = facts::PartyRole::kMaleOwner},
                     {.keeper = society_.IdOf("tomas"), .role = facts::PartyRole::kFemaleOwner}};
    terms.shares = {{.party = 0, .weight = 1}, {.party = 1, .weight = 1}};
    const auto made = ProposeLoan(society_.At("mira"), {.animal = milo_,
                                                        .lender = society_.IdOf("mira"),
                                                        .borrower = society_.IdOf("tomas"),
                                                        .return_day = {},
                                                        .terms = terms,
                                                        .name = "milo-loan",
                                                        .open_until = {}});
    EXPECT_TRUE(made.ok()) << made.status();
    society_.Deliver();
    EXPECT_TRUE(SignLoan(society_.At("tomas"), made->id).ok());
    society_.Deliver();
    return made->id;
  }

  void Revoke(const std::string& by, const std::string& device) {
    const DeviceId id = DeviceOf(society_.At(device).device_key());
    const auto revoked = RevokeDevice(society_.At(by), {.device = id, .reason = "stolen"});
    ASSERT_TRUE(revoked.ok()) << revoked.status();
    society_.Deliver();
  }

  testing::Society society_;
  GroupId group_{};
  AnimalId rosa_{};
  AnimalId milo_{};
};

TEST_F(SealedText, OpensOnTheDevicesOfItsAuthorAndItsReadersAlone) {
  Write("mira", Of(rosa_), kPlace, {.readers = {society_.IdOf("tomas")}});
  EXPECT_THAT(TextsAt("mira", rosa_.bytes), ElementsAre(kPlace));
  EXPECT_THAT(TextsAt("tomas", rosa_.bytes), ElementsAre(kPlace));
  EXPECT_THAT(TextsAt("bela", rosa_.bytes), IsEmpty());
  const v1::SealedNoteList of_bela = NotesAt("bela", rosa_.bytes);
  ASSERT_EQ(of_bela.notes_size(), 1);
  EXPECT_EQ(of_bela.notes(0).state(), "closed");
  EXPECT_EQ(of_bela.notes(0).keeper().name(), "mira");
}

TEST_F(SealedText, IsInNoFileOfAnyReplicaInPlain) {
  Write("mira", Of(rosa_), kPlace, {.readers = {society_.IdOf("tomas")}});
  for (const char* keeper : {"mira", "tomas", "bela"}) society_.Close(keeper);
  std::size_t files = 0;
  for (const auto& file : std::filesystem::recursive_directory_iterator(society_.folder())) {
    if (!file.is_regular_file()) continue;
    std::ifstream in(file.path(), std::ios::binary);
    const std::string bytes{std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
    EXPECT_EQ(bytes.find("Xalitla"), std::string::npos) << file.path();
    ++files;
  }
  EXPECT_GT(files, 10U);
}

// Every kind of subject is gone through: a motion is the kind before.
TEST_F(SealedText, IsVerifiedAndRebuiltFromTheLog) {
  Write("mira", Of(rosa_), kPlace, {.readers = {society_.IdOf("tomas")}});
  ASSERT_TRUE(society_.At("mira")
                  .Act({facts::RoleChange{.keeper = society_.IdOf("tomas"),
                                          .role = facts::Role::kRegistrar}})
                  .ok());
  society_.Deliver();
  ASSERT_TRUE(society_.At("mira")
                  .Act({facts::RoleChange{.keeper = society_.IdOf("bela"),
                                          .role = facts::Role::kRegistrar}})
                  .ok());
  society_.Deliver();
  auto verified = society_.At("mira").Verify();
  ASSERT_TRUE(verified.ok()) << verified.status();
  EXPECT_THAT(verified->faults, IsEmpty());
  verified = society_.At("mira").Rebuild();
  ASSERT_TRUE(verified.ok()) << verified.status();
  EXPECT_THAT(verified->faults, IsEmpty());
  EXPECT_THAT(TextsAt("mira", rosa_.bytes), ElementsAre(kPlace));
}

TEST_F(SealedText, IsBroughtToANewDeviceByAnOldOne) {
  Write("mira", Of(rosa_), kPlace, {.readers = {society_.IdOf("tomas")}});
  society_.EnterDevice("mira field", "mira");
  Care("mira field");  // states its key
  EXPECT_THAT(TextsAt("mira field", rosa_.bytes), IsEmpty());
  EXPECT_EQ(Care("mira").resealed, 1U);
  EXPECT_THAT(TextsAt("mira field", rosa_.bytes), ElementsAre(kPlace));
  EXPECT_THAT(TextsAt("tomas", rosa_.bytes), ElementsAre(kPlace));
  // All is done, on both.
  EXPECT_FALSE(Care("mira").did_something());
  EXPECT_FALSE(Care("mira field").did_something());
}

TEST_F(SealedText, IsBroughtToANewDeviceOfAReaderByTheReader) {
  Write("mira", Of(rosa_), kPlace, {.readers = {society_.IdOf("tomas")}});
  society_.EnterDevice("tomas field", "tomas");
  Care("tomas field");
  EXPECT_EQ(Care("mira").resealed, 0U);
  EXPECT_EQ(Care("tomas").resealed, 1U);
  EXPECT_THAT(TextsAt("tomas field", rosa_.bytes), ElementsAre(kPlace));
  EXPECT_THAT(TextsAt("mira", rosa_.bytes), ElementsAre(kPlace));
}

TEST_F(SealedText, WrittenAfterARevocationDoesNotOpenOnTheDevice) {
  society_.EnterDevice("mira field", "mira");
  Care("mira field");
  Write("mira", Of(rosa_), "before");
  EXPECT_THAT(TextsAt("mira field", rosa_.bytes), ElementsAre("before"));
  Revoke("mira", "mira field");
  Write("mira", Of(rosa_), kPlace);
  Care("mira");
  EXPECT_THAT(TextsAt("mira", rosa_.bytes), ElementsAre(kPlace));
  EXPECT_THAT(TextsAt("mira field", rosa_.bytes), IsEmpty());
}

TEST_F(SealedText, IsNotBroughtToADeviceThatWasCutOffBeforeItCouldRead) {
  Write("mira", Of(rosa_), kPlace);
  society_.EnterDevice("mira field", "mira");
  Care("mira field");
  Revoke("mira", "mira field");
  EXPECT_EQ(Care("mira").resealed, 0U);
  EXPECT_THAT(TextsAt("mira field", rosa_.bytes), IsEmpty());
}

TEST_F(SealedText, OpensInAFolderThatWasPutBackFromABackup) {
  Write("mira", Of(rosa_), kPlace);
  society_.Close("mira");
  const auto home = society_.HomeOf("mira").folder();
  const auto backup = society_.folder() / "backup";
  std::filesystem::copy(home, backup, std::filesystem::copy_options::recursive);
  std::filesystem::remove_all(home);
  std::filesystem::copy(backup, home, std::filesystem::copy_options::recursive);
  EXPECT_THAT(TextsAt("mira", rosa_.bytes), ElementsAre(kPlace));
  EXPECT_FALSE(Care("mira").key_stated);
}

TEST_F(SealedText, IsBroughtToTheFreshKeyOfADeviceThatLostItsOwn) {
  society_.EnterDevice("mira field", "mira");
  Care("mira field");
  Write("mira", Of(rosa_), kPlace);
  for (const auto& file : society_.HomeOf("mira field").sealing_key_files()) {
    std::filesystem::remove(file);
  }
  EXPECT_THAT(TextsAt("mira field", rosa_.bytes), IsEmpty());
  EXPECT_TRUE(Care("mira field").key_stated);
  EXPECT_EQ(Care("mira").resealed, 1U);
  EXPECT_THAT(TextsAt("mira field", rosa_.bytes), ElementsAre(kPlace));
}

TEST_F(SealedText, IsNotPassedOffAsAnothersOrAsAnotherNote) {
  Write("mira", Of(rosa_), kPlace, {.readers = {society_.IdOf("tomas")}});
  const v1::SealedNote note = NotesAt("mira", rosa_.bytes).notes(0);
  const SealedNoteId id{*ParseIdText(note.id())};
  const auto known = registry::Read<registry::SealedNote>(society_.At("tomas").view(), id);
  ASSERT_TRUE(known.ok() && known->has_value());
  // Tomas, who can read it, says that he wrote it about an animal of his.
  const AnimalId frida = testing::AddAnimal(society_, "tomas", {.group = group_, .name = "frida"});
  facts::SealedEntry stolen{.kind = facts::SealedSubject::kAnimal,
                            .subject = frida.bytes,
                            .field = facts::SealedField::kLocality,
                            .sealed = (*known)->copies.front().sealed,
                            .readers = {society_.IdOf("mira")}};
  stolen.note.bytes.fill(7);
  ASSERT_TRUE(society_.At("tomas").Act({stolen}).ok());
  society_.Deliver();
  EXPECT_THAT(TextsAt("mira", frida.bytes), IsEmpty());
  EXPECT_EQ(NotesAt("mira", frida.bytes).notes(0).state(), "damaged");
}

TEST_F(SealedText, OfAReaderCannotBeSpoiltByTheEnvelopeOfAnother) {
  Write("mira", Of(rosa_), kPlace, {.readers = {society_.IdOf("tomas"), society_.IdOf("bela")}});
  const SealedNoteId id{*ParseIdText(NotesAt("mira", rosa_.bytes).notes(0).id())};
  const auto known = registry::Read<registry::SealedNote>(society_.At("bela").view(), id);
  ASSERT_TRUE(known.ok() && known->has_value());
  ASSERT_TRUE(
      society_.At("bela")
          .Act({facts::Resealing{
              .note = id, .copy_token = (*known)->copies.front().token, .sealed = "no envelope"}})
          .ok());
  society_.Deliver();
  for (const char* keeper : {"mira", "tomas", "bela"}) {
    EXPECT_THAT(TextsAt(keeper, rosa_.bytes), ElementsAre(kPlace)) << keeper;
  }
}

TEST_F(SealedText, TakesThePlaceOfWhatItsAuthorWroteThere) {
  Write("mira", Of(rosa_), "first", {.readers = {society_.IdOf("tomas")}});
  Write("mira", Of(rosa_), "second");
  EXPECT_THAT(TextsAt("mira", rosa_.bytes), ElementsAre("second"));
  EXPECT_THAT(TextsAt("tomas", rosa_.bytes), IsEmpty());
  ASSERT_TRUE(TakeSealedBack(society_.At("mira"), Of(rosa_)).ok());
  EXPECT_EQ(NotesAt("mira", rosa_.bytes).notes_size(), 0);
  EXPECT_EQ(ReasonOf(TakeSealedBack(society_.At("mira"), Of(rosa_)).status()), "NO_NOTE");
}

TEST_F(SealedText, OfTwoDevicesAtOnceBothShowUntilOneIsWrittenAnew) {
  society_.EnterDevice("mira field", "mira");
  Care("mira field");
  Write("mira", Of(rosa_), "first");
  ASSERT_TRUE(WriteSealed(society_.At("mira"), Of(rosa_), "here", {}).ok());
  ASSERT_TRUE(WriteSealed(society_.At("mira field"), Of(rosa_), "there", {}).ok());
  society_.Deliver();
  EXPECT_EQ(TextsAt("mira", rosa_.bytes).size(), 2U);
  EXPECT_TRUE(NotesAt("mira", rosa_.bytes).notes(0).concurrent());
  const Audience tomas{.readers = {society_.IdOf("tomas")}};
  EXPECT_EQ(ReasonOf(ShareSealed(society_.At("mira"), Of(rosa_), tomas).status()),
            "NOTE_CONCURRENT");
  Write("mira", Of(rosa_), "settled");
  EXPECT_THAT(TextsAt("mira field", rosa_.bytes), ElementsAre("settled"));
}

TEST_F(SealedText, IsSharedBesideWhatItsAuthorKeeps) {
  Write("mira", Of(rosa_), kPlace);
  const auto shared =
      ShareSealed(society_.At("mira"), Of(rosa_),
                  {.readers = {society_.IdOf("tomas")}, .until = testing::DayOn("2026-12-01")});
  ASSERT_TRUE(shared.ok()) << shared.status();
  society_.Deliver();
  EXPECT_THAT(TextsAt("tomas", rosa_.bytes), ElementsAre(kPlace));
  EXPECT_THAT(TextsAt("bela", rosa_.bytes), IsEmpty());
  society_.clock().AdvanceDays(7);  // 2026-12-02
  EXPECT_THAT(TextsAt("tomas", rosa_.bytes), IsEmpty());
  EXPECT_THAT(TextsAt("mira", rosa_.bytes), ElementsAre(kPlace));
  EXPECT_EQ(Care("mira").ended, 1U);
  EXPECT_EQ(NotesAt("tomas", rosa_.bytes).notes_size(), 1) << "its author's alone";
}

TEST_F(SealedText, OfALoansPriceIsForItsParties) {
  const LoanId loan = Lend();
  Write("tomas",
        {.kind = facts::SealedSubject::kLoan,
         .subject = loan.bytes,
         .field = facts::SealedField::kPrice},
        "40 EUR");
  EXPECT_THAT(TextsAt("mira", loan.bytes), ElementsAre("40 EUR"));
  EXPECT_THAT(TextsAt("bela", loan.bytes), IsEmpty());
}

TEST_F(SealedText, IsNotWrittenForWhomNothingCanBeSealedTo) {
  society_.Enter("iva");
  const auto made =
      WriteSealed(society_.At("mira"), Of(rosa_), kPlace, {.readers = {society_.IdOf("iva")}});
  EXPECT_EQ(ReasonOf(made.status()), "READER_WITHOUT_KEY");
  EXPECT_EQ(ReasonOf(WriteSealed(society_.At("mira"), Of(rosa_), "", {}).status()), "TEXT_EMPTY");
  EXPECT_EQ(ReasonOf(WriteSealed(society_.At("mira"), Of(rosa_), kPlace,
                                 {.until = testing::DayOn("2026-11-24")})
                         .status()),
            "DATE_PAST");
}

TEST_F(SealedText, OfAnAddressOpensToTheOtherPartyOfALoanInForceAndEnds) {
  const IdBytes mira = society_.IdOf("mira").bytes;
  Write("mira", AddressOf("mira"), "Lipowa 3, Krakow");
  Write("tomas", AddressOf("tomas"), "Na Kopci 7, Brno");
  EXPECT_THAT(Care("mira").addresses, IsEmpty());
  const LoanId loan = Lend();
  EXPECT_EQ(Care("mira").addresses.size(), 1U);
  EXPECT_EQ(Care("tomas").addresses.size(), 1U);
  EXPECT_THAT(Care("mira").addresses, IsEmpty()) << "once";
  EXPECT_THAT(TextsAt("tomas", mira), ElementsAre("Lipowa 3, Krakow"));
  EXPECT_THAT(TextsAt("mira", society_.IdOf("tomas").bytes), ElementsAre("Na Kopci 7, Brno"));
  EXPECT_THAT(TextsAt("bela", mira), IsEmpty());

  society_.clock().AdvanceDays(kAddressDays + 1);
  EXPECT_THAT(TextsAt("tomas", mira), IsEmpty());
  EXPECT_THAT(Care("mira").addresses, IsEmpty());
  EXPECT_EQ(NotesAt("tomas", mira).notes_size(), 1) << "what has ended is taken back";

  // The animal travels later: open again.
  const Day today = society_.clock().Today();
  ASSERT_TRUE(SendAnimal(society_.At("mira"), loan, {.earliest = today, .latest = today}).ok());
  EXPECT_EQ(Care("mira").addresses.size(), 1U);
  EXPECT_THAT(TextsAt("tomas", mira), ElementsAre("Lipowa 3, Krakow"));
}

TEST_F(SealedText, OfAnAddressThatWasWrittenForSomebodyOpensToNobodyElse) {
  Write("mira", AddressOf("mira"), "Lipowa 3, Krakow", {.readers = {society_.IdOf("bela")}});
  Lend();
  EXPECT_THAT(Care("mira").addresses, IsEmpty());
  EXPECT_THAT(TextsAt("tomas", society_.IdOf("mira").bytes), IsEmpty());
}

TEST_F(SealedText, OfAnAddressThatChangesEndsAndOpensAnew) {
  Write("mira", AddressOf("mira"), "Lipowa 3, Krakow");
  Lend();
  Care("mira");
  Write("mira", AddressOf("mira"), "Dluga 8, Gdansk");
  EXPECT_THAT(TextsAt("tomas", society_.IdOf("mira").bytes), IsEmpty());
  Care("mira");
  EXPECT_THAT(TextsAt("tomas", society_.IdOf("mira").bytes), ElementsAre("Dluga 8, Gdansk"));
}

// Mira's address changes on one of her devices while the other one opens the one that it knows.
class SealedAddress : public SealedText {
 protected:
  void SetUp() override {
    SealedText::SetUp();
    society_.EnterDevice("mira field", "mira");
    Care("mira field");
    Write("mira", AddressOf("mira"), "Lipowa 3, Krakow");
    Lend();
    const auto opened = OpenAddresses(society_.At("mira field"));
    ASSERT_TRUE(opened.ok()) << opened.status();
    ASSERT_EQ(opened->size(), 1U);
    const auto made =
        WriteSealed(society_.At("mira"), AddressOf("mira"), "Dluga 8, Gdansk", Audience{});
    ASSERT_TRUE(made.ok()) << made.status();
  }

  std::vector<std::string> TextsAtTomas() { return TextsAt("tomas", society_.IdOf("mira").bytes); }
};

TEST_F(SealedAddress, EndsAndOpensAnewWhereAnotherDeviceHadOpenedIt) {
  society_.Deliver();
  EXPECT_THAT(TextsAtTomas(), ElementsAre("Lipowa 3, Krakow"));
  Care("mira");
  EXPECT_THAT(TextsAtTomas(), ElementsAre("Dluga 8, Gdansk"));
  EXPECT_THAT(Care("mira").addresses, IsEmpty()) << "once";
}

TEST_F(SealedAddress, EndsAlsoWhereThePresentOneIsOpenBesideIt) {
  ASSERT_EQ(OpenAddresses(society_.At("mira"))->size(), 1U);
  society_.Deliver();
  EXPECT_THAT(TextsAtTomas(), SizeIs(2));
  Care("mira field");
  EXPECT_THAT(TextsAtTomas(), ElementsAre("Dluga 8, Gdansk"));
}

// Whatever is written, for whom and in what order: an envelope is for the devices of its author and
// its readers that may write now and have stated a key, for each of them and for nobody else.
class Recipients {
 public:
  Recipients() {
    society_.Found("mira");
    for (const char* keeper : {"tomas", "bela", "iva"}) society_.Enter(keeper);
    society_.EnterDevice("bela field", "bela");
    for (const char* one : {"mira", "tomas", "bela", "bela field"}) {
      EXPECT_TRUE(CareForSealed(society_.At(one)).ok());
    }
    society_.Deliver();
    const DeviceId field = DeviceOf(society_.At("bela field").device_key());
    EXPECT_TRUE(RevokeDevice(society_.At("bela"), {.device = field, .reason = "lost"}).ok());
    society_.Deliver();
  }

  Replica& mira() { return society_.At("mira"); }
  KeeperId IdOf(const std::string& keeper) { return society_.IdOf(keeper); }
  device::SealingKeyId KeyOf(const std::string& keeper) {
    const auto stated = registry::Read<registry::SealingKey>(
        mira().view(), DeviceOf(society_.At(keeper).device_key()));
    return device::IdOf(device::SealingPublicKey{stated.value()->key});
  }

 private:
  testing::Society society_;
};

RC_GTEST_PROP(SealedTexts, AreForTheDevicesOfAuthorAndReadersAndNobodyElse, ()) {
  static Recipients recipients;
  Audience audience;
  std::vector<device::SealingKeyId> expected = {recipients.KeyOf("mira")};
  for (const char* keeper : {"tomas", "bela", "tomas"}) {
    if (*rc::gen::arbitrary<bool>()) continue;
    audience.readers.push_back(recipients.IdOf(keeper));
    expected.push_back(recipients.KeyOf(keeper));
  }
  std::ranges::sort(expected);
  const auto twice = std::ranges::unique(expected);
  expected.erase(twice.begin(), twice.end());
  const SealedAt at{.kind = facts::SealedSubject::kKeeper,
                    .subject = recipients.IdOf("mira").bytes,
                    .field = facts::SealedField::kNote};
  const auto made = WriteSealed(recipients.mira(), at, "a text", audience);
  RC_ASSERT(made.ok());
  const auto note = registry::Read<registry::SealedNote>(recipients.mira().view(), made->id);
  RC_ASSERT(*device::RecipientsOf(note.value()->copies.at(0).sealed) == expected);
}

}  // namespace
}  // namespace broodpact::replica
