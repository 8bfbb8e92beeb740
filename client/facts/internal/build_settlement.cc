#include "client/facts/internal/build.h"

namespace broodpact::facts::internal {

void Build(const Objection& from, v1::Statement& to) {
  v1::Objection& objection = *to.mutable_objection();
  objection.set_clutch_id(FieldOf(from.clutch));
  objection.set_count_token(FieldOf(from.count_token));
  objection.set_reason(from.reason);
  Build(from.day, *objection.mutable_day());
}

void Build(const ClashWithdrawal& from, v1::Statement& to) {
  v1::ClashWithdrawal& withdrawal = *to.mutable_clash_withdrawal();
  withdrawal.set_clash_id(FieldOf(from.clash));
  withdrawal.set_reason(from.reason);
}

void Build(const ClashSettlement& from, v1::Statement& to) {
  v1::ClashSettlement& settlement = *to.mutable_clash_settlement();
  settlement.set_clash_id(FieldOf(from.clash));
  settlement.set_words(from.words);
  settlement.set_count_token(FieldOf(from.count_token));
  for (const SplitShare& share : from.shares) Build(share, *settlement.add_shares());
  for (const LotMove& move : from.moves) {
    v1::LotMove& added = *settlement.add_moves();
    added.set_lot_id(FieldOf(move.lot));
    added.set_keeper_id(FieldOf(move.keeper));
    added.set_slings(move.slings);
    added.set_new_lot_id(FieldOf(move.new_lot));
  }
}

void Build(const ClashSignature& from, v1::Statement& to) {
  v1::ClashSignature& signature = *to.mutable_clash_signature();
  signature.set_clash_id(FieldOf(from.clash));
  signature.set_settlement_token(FieldOf(from.settlement));
}

void Build(const Succession& from, v1::Statement& to) {
  v1::Succession& succession = *to.mutable_succession();
  succession.set_keeper_id(FieldOf(from.keeper));
  succession.set_successor_id(FieldOf(from.successor));
  succession.set_reason(from.reason);
  Build(from.day, *succession.mutable_day());
}

void Build(const SacGift& from, v1::Statement& to) {
  v1::SacGift& gift = *to.mutable_sac_gift();
  gift.set_clutch_id(FieldOf(from.clutch));
  gift.set_receiver_id(FieldOf(from.receiver));
  gift.set_due_loan_id(FieldOf(from.due_loan));
  Build(from.day, *gift.mutable_day());
}

void Build(const DueAcceptance& from, v1::Statement& to) {
  v1::DueAcceptance& acceptance = *to.mutable_due_acceptance();
  acceptance.set_animal_id(FieldOf(from.animal));
  acceptance.set_clutch_id(FieldOf(from.clutch));
  acceptance.set_offer_token(FieldOf(from.offer));
  for (const Hash& digest : from.agreement_digests) {
    acceptance.add_agreement_digests(FieldOf(digest));
  }
}

}  // namespace broodpact::facts::internal
