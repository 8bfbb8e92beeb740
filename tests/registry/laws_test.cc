// Goal: what holds for every history: conservation, one owner and one holder, finality, equal state
// however it was folded, and no effect of what does not count.
// Method: random histories of a small cooperative in which statements cross (history.h). A failing
// test names the seed.

#include <map>

#include "gtest/gtest.h"

#include "client/registry/index.h"
#include "client/registry/layer.h"
#include "tests/registry/history.h"

namespace broodpact::registry {
namespace {

constexpr int kSteps = 400;

class Laws : public testing::TestWithParam<std::uint32_t> {};

INSTANTIATE_TEST_SUITE_P(Seeds, Laws, testing::Range(1U, 13U));

void ExpectBooksBalance(const MapSource& source) {
  std::map<ClutchId, std::uint64_t> in_lots;
  std::map<ClutchId, std::uint64_t> raised;
  for (const Lot& lot : source.All<Lot>()) in_lots[lot.clutch] += lot.slings;
  for (const Animal& animal : source.All<Animal>()) {
    if (!animal.clutch.empty()) ++raised[animal.clutch];
  }
  for (const Clutch& clutch : source.All<Clutch>()) {
    const Accounts& books = clutch.accounts;
    EXPECT_EQ(std::int64_t{books.hatched}, std::int64_t{books.undivided} + books.in_lots +
                                               books.dead + books.raised + books.unaccounted);
    EXPECT_EQ(books.in_lots, in_lots[clutch.id]);
    EXPECT_EQ(books.raised, raised[clutch.id]);
    EXPECT_TRUE(clutch.counts.empty() ? books == Accounts{} : true);
  }
}

TEST_P(Laws, NoSlingIsMadeOrLostBetweenCountAndReceipt) {
  History history(GetParam());
  for (int i = 0; i < kSteps; ++i) {
    history.Step();
    ExpectBooksBalance(history.world.Flush());
    ASSERT_FALSE(HasFailure()) << "after step " << i;
  }
}

// What a lot has by its story: what came in less what went out.
std::int64_t SlingsByStory(const Lot& lot) {
  std::int64_t slings = 0;
  for (const SlingEvent& event : lot.events) {
    switch (event.kind) {
      case SlingEventKind::kShared:
      case SlingEventKind::kTaken:
      case SlingEventKind::kMerged:
        slings += event.slings;
        break;
      case SlingEventKind::kReceived:
        slings = event.slings;
        break;
      case SlingEventKind::kReplaced:
        break;
      default:
        slings -= event.slings;
    }
  }
  return slings;
}

TEST_P(Laws, EveryLotIsTheSumOfItsStory) {
  History history(GetParam());
  history.Steps(kSteps);
  for (const Lot& lot : history.world.Flush().All<Lot>()) {
    EXPECT_EQ(SlingsByStory(lot), std::int64_t{lot.slings}) << ToShortText(lot.id);
    EXPECT_LE(lot.made_good, lot.dead_on_arrival);
  }
}

TEST_P(Laws, WhatIsSharedOutIsWhatCameToTheParties) {
  History history(GetParam());
  history.Steps(kSteps);
  for (const Clutch& clutch : history.world.Flush().All<Clutch>()) {
    std::int64_t shared = 0;
    std::int64_t returned = 0;
    for (const SlingEvent& event : clutch.events) {
      if (event.kind == SlingEventKind::kShared) shared += event.slings;
      if (event.kind == SlingEventKind::kReturned) returned += event.slings;
    }
    std::int64_t lots = 0;
    std::int64_t credited = 0;
    for (const facts::SplitShare& share : clutch.shares) lots += share.slings;
    for (const PartyShare& share : clutch.parties) credited += share.credited;
    EXPECT_EQ(lots, shared);
    EXPECT_GE(credited, shared - returned);
    EXPECT_LE(credited, shared);
  }
}

TEST_P(Laws, OpenObjectionsAreClashesThatNobodyEnded) {
  History history(GetParam());
  history.Steps(kSteps);
  std::map<IdBytes, std::uint32_t> open;
  for (const Clash& clash : history.world.Flush().All<Clash>()) {
    if (clash.reason == "OBJECTION" && clash.state == ClashState::kOpen) ++open[clash.subject];
    for (const SettlementRecord& settlement : clash.settlements) {
      const bool all_signed = settlement.signatures.size() == clash.parties.size();
      EXPECT_TRUE(!all_signed || clash.state != ClashState::kOpen);
    }
  }
  for (const Clutch& clutch : history.world.Flush().All<Clutch>()) {
    EXPECT_EQ(clutch.objections_open, open[clutch.id.bytes]);
  }
}

TEST_P(Laws, AStandingCountIsOne) {
  History history(GetParam());
  history.Steps(kSteps);
  for (const Clutch& clutch : history.world.Flush().All<Clutch>()) {
    int standing = 0;
    for (const CountRecord& count : clutch.counts) {
      if (count.state == CountState::kStanding) ++standing;
    }
    EXPECT_EQ(standing, clutch.counts.empty() ? 0 : 1);
  }
}

TEST_P(Laws, ACountedSpenderOfATokenIsTheOnlyOne) {
  History history(GetParam());
  history.Steps(kSteps);
  std::map<std::pair<AnimalId, Token>, int> owners;
  std::map<std::pair<AnimalId, Token>, int> holders;
  const std::vector<facts::Arrived>& commits = history.world.history();
  const std::vector<Verdict>& verdicts = history.world.verdicts();
  std::map<LoanId, AnimalId> animals;
  for (const Loan& loan : history.world.Flush().All<Loan>()) animals[loan.id] = loan.animal;
  for (std::size_t i = 0; i < commits.size(); ++i) {
    if (verdicts[i].kind != VerdictKind::kCounted) continue;
    for (const facts::Statement& statement : commits[i].commit.statements) {
      const auto* gift = std::get_if<facts::Gift>(&statement);
      // With a due it is an offer, which spends nothing until it is accepted.
      if (gift != nullptr && gift->due_loans.empty()) {
        EXPECT_EQ(++(owners[{gift->animal, gift->owner_token}]), 1);
        if (!gift->holder_token.empty()) {
          EXPECT_EQ(++(holders[{gift->animal, gift->holder_token}]), 1);
        }
      }
      if (const auto* dispatch = std::get_if<facts::Dispatch>(&statement)) {
        EXPECT_EQ(++(holders[{animals[dispatch->loan], dispatch->holder_token}]), 1);
      }
    }
  }
}

TEST_P(Laws, AnAnimalIsPromisedToOneLoanInForce) {
  History history(GetParam());
  history.Steps(kSteps);
  std::map<AnimalId, LoanId> in_force;
  for (const Loan& loan : history.world.Flush().All<Loan>()) {
    if (loan.state != LoanState::kInForce) continue;
    EXPECT_TRUE(in_force.emplace(loan.animal, loan.id).second);
    EXPECT_EQ(loan.signatures.size(), loan.parties.size()) << "all have signed";
  }
  for (const Animal& animal : history.world.Flush().All<Animal>()) {
    EXPECT_EQ(animal.loan, in_force[animal.id]);
  }
}

TEST_P(Laws, ACommitThatDoesNotCountChangesOnlyWhatIsWritten) {
  History history(GetParam());
  MapSource before = history.world.Flush();
  for (int i = 0; i < kSteps; ++i) {
    history.Step();
    const MapSource& after = history.world.Flush();
    const Verdict& verdict = history.world.verdict();
    const bool documented = verdict.reason == "TOKEN_SPENT" || verdict.reason == "COUNT_RIVAL" ||
                            verdict.reason == "ANIMAL_PROMISED" ||
                            verdict.reason == "VERSION_REPLACED";
    if (verdict.kind != VerdictKind::kCounted && !documented) {
      EXPECT_EQ(after, before) << Short(verdict);
    }
    if (verdict.kind != VerdictKind::kCounted && documented) {
      for (const auto& [key, value] : after.subjects()) {
        const auto old = before.subjects().find(key);
        if (old != before.subjects().end() && old->second == value) continue;
        EXPECT_TRUE(key.kind == Kind::kClash || key.kind == Kind::kLoan ||
                    key.kind == Kind::kClutch)
            << Short(verdict);
      }
    }
    before = after;
  }
}

TEST_P(Laws, AFinalVerdictDoesNotChangeAsTheLogGrows) {
  History history(GetParam());
  history.Steps(kSteps);
  const std::vector<facts::Arrived>& commits = history.world.history();
  for (const std::size_t prefix : {commits.size() / 3, commits.size() / 2, commits.size()}) {
    State state(EmptySource());
    for (std::size_t i = 0; i < prefix; ++i) {
      EXPECT_EQ(Fold(state, commits[i]), history.world.verdicts()[i]) << "commit " << i;
    }
  }
}

// Folds in chunks of `size`, storing and forgetting between them.
MapSource FoldInChunks(const std::vector<facts::Arrived>& commits, std::size_t size, bool forget) {
  MapSource source;
  State state(source);
  for (std::size_t i = 0; i < commits.size(); ++i) {
    Fold(state, commits[i]);
    if ((i + 1) % size != 0 && i + 1 != commits.size()) continue;
    source.Store(state.TakeChanges());
    if (forget) state.Shrink();
  }
  return source;
}

TEST_P(Laws, FoldingInChunksEqualsFoldingInOneGo) {
  History history(GetParam());
  history.Steps(kSteps);
  const std::vector<facts::Arrived>& commits = history.world.history();
  const MapSource whole = FoldInChunks(commits, commits.size(), false);
  for (const std::size_t size : {1U, 2U, 7U, 50U}) {
    EXPECT_EQ(FoldInChunks(commits, size, true), whole) << size << " at a time, forgetting";
    EXPECT_EQ(FoldInChunks(commits, size, false), whole) << size << " at a time";
  }
}

TEST_P(Laws, ALayerAnswersAsAStoreOfTheSameChanges) {
  History history(GetParam());
  history.Steps(kSteps);
  const std::vector<facts::Arrived>& commits = history.world.history();
  MapSource base;
  State lower(base);
  std::size_t i = 0;
  for (; i < commits.size() / 2; ++i) Fold(lower, commits[i]);
  base.Store(lower.TakeChanges());

  // The rest in two layers' worth of changes, and the same in a store.
  MapSource stored = base;
  Layer layer(base);
  State upper(layer);
  for (; i < commits.size(); ++i) {
    Fold(upper, commits[i]);
    if (i % 40 != 0 && i + 1 != commits.size()) continue;
    std::vector<Change> changes = upper.TakeChanges();
    stored.Store(changes);
    layer.Lay(std::move(changes));
    upper.Shrink();
  }
  for (const auto& [key, value] : stored.subjects()) EXPECT_EQ(*layer.Subject(key), value);
  for (const std::string prefix : {"", "n", "u", "h", "t", "m", "l", "c", "s", "w"}) {
    for (const std::size_t count_max : {std::size_t{1}, std::size_t{5}, std::size_t(-1)}) {
      EXPECT_EQ(*layer.IndexEntries(prefix, count_max), *stored.IndexEntries(prefix, count_max));
    }
  }
  for (int kind = 1; kind <= 12; ++kind) {
    std::optional<IdBytes> after;
    for (;;) {
      const auto ours = *layer.SubjectsOfKind(static_cast<Kind>(kind), after, 3);
      const auto theirs = *stored.SubjectsOfKind(static_cast<Kind>(kind), after, 3);
      ASSERT_EQ(ours.size(), theirs.size());
      for (std::size_t n = 0; n < ours.size(); ++n) {
        EXPECT_EQ(ours[n].id, theirs[n].id);
        EXPECT_EQ(ours[n].value, theirs[n].value);
      }
      if (ours.empty()) break;
      after = ours.back().id;
    }
  }
}

template <typename Subject>
void AddEntries(const MapSource& source, std::set<std::string, std::less<>>& entries) {
  for (const Subject& subject : source.All<Subject>()) {
    for (std::string& entry : IndexEntriesOf(subject)) entries.insert(std::move(entry));
  }
}

TEST_P(Laws, EveryIndexHoldsWhatAScanFinds) {
  History history(GetParam());
  for (int i = 0; i < kSteps; ++i) {
    history.Step();
    if (i % 10 != 0) continue;
    const MapSource& source = history.world.Flush();
    std::set<std::string, std::less<>> entries;
    AddEntries<Keeper>(source, entries);
    AddEntries<Group>(source, entries);
    AddEntries<Animal>(source, entries);
    AddEntries<Loan>(source, entries);
    AddEntries<Clutch>(source, entries);
    AddEntries<Lot>(source, entries);
    AddEntries<Clash>(source, entries);
    AddEntries<Veto>(source, entries);
    AddEntries<Want>(source, entries);
    AddEntries<SealedNote>(source, entries);
    ASSERT_EQ(source.entries(), entries) << "after step " << i;
  }
}

TEST_P(Laws, EverySubjectIsReadBackAsItWas) {
  History history(GetParam());
  history.Steps(kSteps);
  const MapSource& source = history.world.Flush();
  const auto check = [&]<typename Subject>(const Subject*) {
    for (const auto& [key, value] : source.subjects()) {
      if (key.kind != Subject::kKind) continue;
      EXPECT_EQ(Encode(*Decode<Subject>(value)), value);
    }
  };
  check(static_cast<const Animal*>(nullptr));
  check(static_cast<const Loan*>(nullptr));
  check(static_cast<const Clutch*>(nullptr));
  check(static_cast<const Lot*>(nullptr));
  check(static_cast<const Clash*>(nullptr));
  check(static_cast<const SealedNote*>(nullptr));
}

TEST_P(Laws, CountersCountWhatThereIs) {
  History history(GetParam());
  history.Steps(kSteps);
  const MapSource& source = history.world.Flush();
  const Cooperative cooperative = source.All<Cooperative>().front();
  EXPECT_EQ(cooperative.keepers, source.All<Keeper>().size());
  EXPECT_EQ(cooperative.groups, source.All<Group>().size());
  EXPECT_EQ(cooperative.animals, source.All<Animal>().size());
  EXPECT_EQ(cooperative.loans, source.All<Loan>().size());
  EXPECT_EQ(cooperative.clutches, source.All<Clutch>().size());
}

// The laws above are worth what the histories reach.
TEST(Histories, ReachEveryKindOfContest) {
  std::map<std::string, int> seen;
  for (std::uint32_t seed = 1; seed <= 60; ++seed) {
    History history(seed);
    history.Steps(kSteps);
    for (const Verdict& verdict : history.world.verdicts()) {
      ++seen[verdict.reason.empty() ? "counted" : verdict.reason];
    }
  }
  std::string reached;
  for (const auto& [reason, count] : seen) reached += reason + " " + std::to_string(count) + "\n";
  for (const char* reason : {"counted",
                             "TOKEN_SPENT",
                             "ANIMAL_PROMISED",
                             "COUNT_RIVAL",
                             "COUNT_REPLACED",
                             "ALREADY_SHARED",
                             "SPLIT_DIFFERS",
                             "PROMISE_BROKEN",
                             "FLAG_UNACCOUNTED",
                             "COUNT_TOO_LOW",
                             "INSUFFICIENT",
                             "NAME_TAKEN",
                             "ID_TAKEN",
                             "LOAN_STATE",
                             "PROMISED_TO_LOAN",
                             "NOT_YOUR_ANIMAL",
                             "FLAG_AFTER_DEATH",
                             "ANIMAL_AWAY",
                             "CLASH_ENDED",
                             "UNKNOWN_COUNT",
                             "SPLIT_SUM",
                             "LAST_SHARE",
                             "LOT_HANDED_OVER",
                             "LOTS_DIFFER",
                             "NOTHING_TO_REPLACE",
                             "DUE_UNDISCLOSED",
                             "DUE_OTHER",
                             "OFFER_REPLACED",
                             "FLAG_OBJECTION_OPEN",
                             "FLAG_NOTE_CONCURRENT",
                             "FLAG_RESEALED_BEFORE",
                             "NOT_YOURS_TO_SEAL"}) {
    EXPECT_GT(seen[reason], 0) << reason << " among\n" << reached;
  }
}

}  // namespace
}  // namespace broodpact::registry
