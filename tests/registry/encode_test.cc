// Goal: a subject has one form in bytes, is read back as it was, and bytes that are none are not
// read, whatever they are.
// Method: subjects with every member set; bytes that are cut or changed.

#include "client/registry/encode.h"

#include <random>

#include "gtest/gtest.h"

#include "client/registry/internal/fields.h"
#include "tests/registry/world.h"

namespace broodpact::registry {
namespace {

Entry SomeEntry(std::uint64_t n) {
  return {.arrival = n, .time_ms = -5, .keeper = Numbered<KeeperId>(3)};
}

Animal SomeAnimal() {
  Animal animal;
  animal.id = Numbered<AnimalId>(1);
  animal.group = Numbered<GroupId>(2);
  animal.name = "rosa";
  animal.owner = Numbered<KeeperId>(3);
  animal.holder_token = Numbered<Token>(4);
  animal.owner_arrival = 1'000'000;
  animal.sex = facts::Sex::kMale;
  animal.maturity = On("2026-05");
  animal.moults = {{.day = On("1999-01-01"), .moult_count = 4, .entry = SomeEntry(7)}};
  animal.sex_claims = {{.sex = facts::Sex::kMale,
                        .method = facts::SexMethod::kAdultForm,
                        .day = On("2026-05-01?"),
                        .entry = SomeEntry(8)}};
  animal.pairings = {Numbered<PairingId>(5), Numbered<PairingId>(6)};
  animal.past_owners = {
      {.keeper = Numbered<KeeperId>(9), .token = Numbered<Token>(10), .arrival = 11}};
  animal.entry = SomeEntry(6);
  animal.hybrid = true;
  animal.past_groups = {
      {.group = Numbered<GroupId>(20), .reason = "split", .entry = SomeEntry(21)}};
  animal.offspring = {Numbered<AnimalId>(22)};
  animal.due_versions = {
      {.loan = Numbered<LoanId>(23), .keeper = Numbered<KeeperId>(3), .agreement = Sha256("v")}};
  return animal;
}

Clutch SomeClutch() {
  Clutch clutch;
  clutch.id = Numbered<ClutchId>(1);
  clutch.name = "c12";
  clutch.laying = On("2026-05-01/2026-05-04");
  clutch.agreement = Sha256("z");
  clutch.counts = {{.token = Numbered<Token>(2),
                    .day = On("2026-06-01"),
                    .slings_living = 300,
                    .state = CountState::kRival,
                    .entry = SomeEntry(12)}};
  clutch.accounts = {.hatched = 300, .undivided = 299, .dead = 2, .unaccounted = -1};
  clutch.shared_out = true;
  clutch.shares = {{.keeper = Numbered<KeeperId>(3), .slings = 4, .lot = Numbered<LotId>(5)}};
  clutch.lots = {Numbered<LotId>(5)};
  clutch.split = SomeEntry(13);
  clutch.entry = SomeEntry(14);
  clutch.hybrid = true;
  clutch.raised = {Numbered<AnimalId>(22)};
  clutch.lots_made = {{.keeper = Numbered<KeeperId>(3), .lots = 2}};
  clutch.number_given_back = true;
  return clutch;
}

Loan SomeLoan() {
  Loan loan;
  loan.id = Numbered<LoanId>(1);
  loan.agreement = std::string("\0\xff bytes", 8);
  loan.agreement_digest = Sha256("x");
  loan.return_day = Day{-3};
  loan.state = LoanState::kSuperseded;
  loan.parties = {Numbered<KeeperId>(3)};
  loan.signatures = {{.keeper = Numbered<KeeperId>(3), .entry = SomeEntry(15)}};
  loan.open_until = Day{20'600};
  loan.versions = {{.agreement = "bytes before",
                    .digest = Sha256("y"),
                    .state = VersionState::kReplaced,
                    .parties = {Numbered<KeeperId>(4)},
                    .signatures = {{.keeper = Numbered<KeeperId>(4), .entry = SomeEntry(17)}},
                    .open_until = Day{20'500},
                    .in_force_arrival = 9,
                    .in_force_time_ms = 10,
                    .reason = "no",
                    .ended = SomeEntry(18)}};
  loan.ended = SomeEntry(16);
  return loan;
}

// Whether the bytes lack nothing of what is read from them but fields that were added later, empty.
template <typename Subject>
bool IsFormOf(std::string_view bytes, const Subject& read) {
  const std::string whole = Encode(read);
  return whole == bytes || (kFieldsAdded<Subject> > 0 && whole.starts_with(bytes) &&
                            whole.size() - bytes.size() <= kFieldsAdded<Subject>);
}

template <typename Subject>
void ExpectReadBack(const Subject& value) {
  const std::string bytes = Encode(value);
  EXPECT_EQ(Decode<Subject>(bytes), value);
  EXPECT_EQ(Encode(Subject(value)), bytes) << "equal values, equal bytes";
  for (std::size_t size = 0; size < bytes.size(); ++size) {
    const std::string cut = bytes.substr(0, size);
    const std::optional<Subject> read = Decode<Subject>(cut);
    EXPECT_TRUE(!read || IsFormOf(cut, *read)) << size;
  }
  EXPECT_EQ(Decode<Subject>(bytes + '\0'), std::nullopt);
}

// Whatever is read from changed bytes has those bytes as its one form.
template <typename Subject>
void ExpectOneForm(const Subject& value) {
  const std::string good = Encode(value);
  std::mt19937 random(7);
  for (int i = 0; i < 20'000; ++i) {
    std::string bytes = good;
    for (auto n = 1 + random() % 3; n > 0; --n) {
      bytes[random() % bytes.size()] = static_cast<char>(random());
    }
    if (random() % 4 == 0) bytes.resize(random() % bytes.size());
    const std::optional<Subject> read = Decode<Subject>(bytes);
    if (!read.has_value()) continue;
    EXPECT_TRUE(IsFormOf(bytes, *read));
  }
}

TEST(Encode, ReadsWhatEarlierRulesWroteWithoutTheFieldsThatWereAdded) {
  Clutch clutch = SomeClutch();
  clutch.lots_made.clear();
  clutch.number_given_back = false;
  const std::string bytes = Encode(clutch);
  EXPECT_EQ(Decode<Clutch>(bytes.substr(0, bytes.size() - kFieldsAdded<Clutch>)), clutch);
  Animal animal = SomeAnimal();
  animal.due_versions.clear();
  const std::string shorter = Encode(animal);
  EXPECT_EQ(Decode<Animal>(shorter.substr(0, shorter.size() - kFieldsAdded<Animal>)), animal);
}

TEST(Encode, ReadsBackWhatItWrote) {
  ExpectReadBack(SomeAnimal());
  ExpectReadBack(SomeClutch());
  ExpectReadBack(SomeLoan());
  ExpectReadBack(Cooperative{.id = Sha256("c"), .name = "brood", .keepers = 3, .frozen = 1});
  ExpectReadBack(Keeper{.id = Numbered<KeeperId>(1),
                        .name = "mira",
                        .role = facts::Role::kObserver,
                        .region = "SE",
                        .devices = {Numbered<DeviceId>(2)}});
  ExpectReadBack(Device{.id = Numbered<DeviceId>(1), .keeper = Numbered<KeeperId>(2)});
  ExpectReadBack(Invite{.id = Numbered<InviteId>(1), .spent_arrival = 9});
  ExpectReadBack(Group{.id = Numbered<GroupId>(1), .name = "g", .taxon = "t"});
  ExpectReadBack(Pairing{.id = Numbered<PairingId>(1),
                         .outcome = facts::PairingOutcome::kMaleEaten,
                         .loan = Numbered<LoanId>(2)});
  ExpectReadBack(Lot{.id = Numbered<LotId>(1), .slings = 7, .dispatch = On("2026-05-01")});
  ExpectReadBack(Clash{.id = Numbered<ClashId>(1),
                       .subject_kind = Kind::kClutch,
                       .reason = "COUNT_RIVAL",
                       .parties = {Numbered<KeeperId>(2)},
                       .state = ClashState::kSettled});
  ExpectReadBack(Veto{.id = Numbered<VetoId>(1),
                      .other_keeper = Numbered<KeeperId>(2),
                      .stance = facts::VetoStance::kLifted});
  ExpectReadBack(Want{.id = Numbered<WantId>(1),
                      .what = facts::WantKind::kFemale,
                      .count = 3,
                      .until = Day{20'000},
                      .state = WantState::kEnded});
  ExpectReadBack(SealingKey{.id = Numbered<DeviceId>(1), .key = Sha256("key")});
  ExpectReadBack(SealedNote{.id = Numbered<SealedNoteId>(1),
                            .subject_kind = facts::SealedSubject::kClutch,
                            .field = facts::SealedField::kPrice,
                            .readers = {Numbered<KeeperId>(2), Numbered<KeeperId>(3)},
                            .until = Day{20'000},
                            .copies = {{.keeper = Numbered<KeeperId>(2), .sealed = "envelope"}},
                            .state = NoteState::kTakenBack,
                            .concurrent = true});
  ExpectReadBack(Stretch{.id = Numbered<Token>(1).bytes,
                         .counted = {{.token = Numbered<Token>(2), .arrival = 300}},
                         .told = 2});
  ExpectReadBack(Frozen{.id = Numbered<AnimalId>(1).bytes, .entry = SomeEntry(2)});
}

TEST(Encode, ReadsBackEveryKindOfEventOfALot) {
  Lot lot{.id = Numbered<LotId>(1)};
  for (auto kind = static_cast<int>(SlingEventKind::kShared);
       kind <= static_cast<int>(SlingEventKind::kReplaced); ++kind) {
    lot.events = {{.kind = static_cast<SlingEventKind>(kind), .slings = 2, .entry = SomeEntry(9)}};
    ExpectReadBack(lot);
  }
}

TEST(Encode, TheNumbersOfALotComeInTheOrderOfTheFirstFormat) {
  Lot lot{.id = Numbered<LotId>(1)};
  lot.raised = 3;
  lot.dead = 4;
  lot.receipt_arrival = 5;
  lot.dead_on_arrival = 6;
  lot.made_good = 7;
  EXPECT_NE(Encode(lot).find("\x03\x04\x05\x06\x07"), std::string::npos);
}

TEST(Encode, ChangedBytesAreNotReadOrAreTheOneFormOfWhatIsRead) {
  ExpectOneForm(SomeAnimal());
  ExpectOneForm(SomeClutch());
  ExpectOneForm(SomeLoan());
}

TEST(Encode, AHostileCountReservesNothing) {
  Animal animal = SomeAnimal();
  const std::string bytes = Encode(Animal{.id = animal.id});
  // Every byte in turn as the beginning of a count of 2^56.
  for (std::size_t i = 1; i < bytes.size(); ++i) {
    std::string hostile = bytes.substr(0, i) + std::string(8, '\xff') + '\x01' + bytes.substr(i);
    EXPECT_EQ(Decode<Animal>(hostile), std::nullopt);
  }
}

TEST(Encode, AnotherFormatIsNotRead) {
  std::string bytes = Encode(SomeAnimal());
  bytes[0] = 2;
  EXPECT_EQ(Decode<Animal>(bytes), std::nullopt);
}

TEST(Encode, AKeyIsItsKindAndItsId) {
  const SubjectKey key{Kind::kAnimal, Numbered<AnimalId>(1).bytes};
  const std::string text = KeyText(key);
  ASSERT_EQ(text.size(), kSubjectKeySize);
  EXPECT_EQ(text[0], 6);
  EXPECT_EQ(text.substr(1), ViewOf(key.id));
}

}  // namespace
}  // namespace broodpact::registry
