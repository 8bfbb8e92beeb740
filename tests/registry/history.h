#pragma once

// Random histories of a small cooperative, made so that statements cross: few animals, stale
// tokens, the wrong keeper, ids used twice. Equal seeds give equal histories.

#include <cstdint>
#include <random>
#include <vector>

#include "tests/registry/world.h"

namespace broodpact::registry {

class History {
 public:
  explicit History(std::uint32_t seed);

  // One more commit, of one to three statements.
  void Step();
  void Steps(int count) {
    for (int i = 0; i < count; ++i) Step();
  }

  World world;

 private:
  std::uint32_t Roll(std::uint32_t sides) { return static_cast<std::uint32_t>(random_()) % sides; }
  template <typename Value>
  Value AnyOf(const std::vector<Value>& values) {
    return values.empty() ? Value{} : values[Roll(static_cast<std::uint32_t>(values.size()))];
  }
  template <typename AnyId>
  AnyId NewOf(std::vector<AnyId>& ids);
  template <typename Subject, typename AnyId>
  void Forget(std::vector<AnyId>& ids);

  const Member& AnyMember();
  const Member& MemberOf(const KeeperId& keeper);
  // Who may well state that: a random keeper would make nearly everything void.
  KeeperId LikelyAuthor(const facts::Statement& statement);
  DaySpan AnyDay();
  // Remembers the clash about this subject that the last commit brought, if it did.
  void AddClashAbout(const IdBytes& subject);
  Token AnyToken(const AnimalId& animal, bool owner);
  facts::Statement AnyStatement();
  facts::Statement AboutAnimal();
  facts::Statement AboutLoan();
  // An amendment of a loan, a signature under one or its refusal.
  facts::Statement AboutVersion(const LoanId& id, const Loan* loan);
  facts::Statement AboutHandover();
  facts::Statement AboutClutch();
  // What a split of the clutch rests on now, beside its count.
  shares::Occasion OccasionOf(const Clutch& clutch, const facts::Terms& terms);
  facts::Statement AboutSplit();
  facts::Statement AboutLot();
  facts::Statement AboutLotChange();
  facts::Statement AboutShare();
  facts::Statement AboutClash();
  facts::Statement AboutDue();
  // Something that a clash may be settled by; now and then nonsense.
  facts::ClashSettlement SettlementOf(const Clash& clash);
  facts::Statement AboutWish();
  facts::Statement AboutNote();

  std::mt19937 random_;
  std::vector<AnimalId> animals_;
  std::vector<LoanId> loans_;
  std::vector<PairingId> pairings_;
  std::vector<ClutchId> clutches_;
  std::vector<LotId> lots_;
  std::vector<WantId> wants_;
  std::vector<SealedNoteId> notes_;
  std::vector<Token> tokens_;
  std::vector<ClashId> clashes_;
};

}  // namespace broodpact::registry
