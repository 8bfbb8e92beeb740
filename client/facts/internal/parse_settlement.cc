#include "client/facts/internal/parse.h"

namespace broodpact::facts::internal {
namespace {

constexpr int kMovesMax = 64;
constexpr int kDigestsMax = 16;

LotMove ParseMove(const v1::LotMove& from, Fields& fields) {
  LotMove move;
  move.lot = fields.Required<LotId>("lot of a move", from.lot_id());
  move.keeper = fields.Required<KeeperId>("keeper of a move", from.keeper_id());
  move.slings = fields.Slings("number of slings of a move", from.slings(), 1);
  move.new_lot = fields.Required<LotId>("new lot of a move", from.new_lot_id());
  return move;
}

// Words that may not be missing.
std::string Words(std::string_view what, const std::string& text, Fields& fields) {
  if (text.empty()) fields.Missing(what);
  return fields.Text(what, text, kReasonBytesMax);
}

}  // namespace

Objection Parse(const v1::Objection& from, Fields& fields) {
  fields.EnterKind("objection");
  Objection objection;
  objection.clutch = fields.Required<ClutchId>("clutch", from.clutch_id());
  objection.count_token = fields.Optional<Token>("count objected to", from.count_token());
  objection.reason = Words("reason", from.reason(), fields);
  objection.day = fields.Day(from);
  return objection;
}

ClashWithdrawal Parse(const v1::ClashWithdrawal& from, Fields& fields) {
  fields.EnterKind("withdrawal");
  ClashWithdrawal withdrawal;
  withdrawal.clash = fields.Required<ClashId>("clash", from.clash_id());
  withdrawal.reason = fields.Text("reason", from.reason(), kReasonBytesMax);
  return withdrawal;
}

ClashSettlement Parse(const v1::ClashSettlement& from, Fields& fields) {
  fields.EnterKind("settlement");
  ClashSettlement settlement;
  settlement.clash = fields.Required<ClashId>("clash", from.clash_id());
  settlement.words = Words("words", from.words(), fields);
  settlement.count_token = fields.Optional<Token>("count that stands", from.count_token());
  if (static_cast<std::size_t>(from.shares_size()) > kPartiesMax + kSireOwnersMax ||
      from.moves_size() > kMovesMax) {
    fields.Note(Fault::kForm, "list of shares or moves", "is too long");
    return settlement;
  }
  for (const v1::SplitShare& share : from.shares()) {
    settlement.shares.push_back(ParseShare(share, fields));
  }
  for (const v1::LotMove& move : from.moves()) {
    settlement.moves.push_back(ParseMove(move, fields));
  }
  return settlement;
}

ClashSignature Parse(const v1::ClashSignature& from, Fields& fields) {
  fields.EnterKind("signature of a settlement");
  ClashSignature signature;
  signature.clash = fields.Required<ClashId>("clash", from.clash_id());
  signature.settlement = fields.Required<Token>("settlement", from.settlement_token());
  return signature;
}

Succession Parse(const v1::Succession& from, Fields& fields) {
  fields.EnterKind("succession");
  Succession succession;
  succession.keeper = fields.Required<KeeperId>("keeper", from.keeper_id());
  succession.successor = fields.Optional<KeeperId>("successor", from.successor_id());
  succession.reason = fields.Text("reason", from.reason(), kReasonBytesMax);
  succession.day = fields.Day(from);
  return succession;
}

SacGift Parse(const v1::SacGift& from, Fields& fields) {
  fields.EnterKind("gift of a sac");
  SacGift gift;
  gift.clutch = fields.Required<ClutchId>("clutch", from.clutch_id());
  gift.receiver = fields.Required<KeeperId>("receiver", from.receiver_id());
  gift.due_loan = fields.Optional<LoanId>("loan of the due", from.due_loan_id());
  gift.day = fields.Day(from);
  return gift;
}

DueAcceptance Parse(const v1::DueAcceptance& from, Fields& fields) {
  fields.EnterKind("acceptance of a due");
  DueAcceptance acceptance;
  acceptance.animal = fields.Optional<AnimalId>("animal", from.animal_id());
  acceptance.clutch = fields.Optional<ClutchId>("clutch", from.clutch_id());
  if (acceptance.animal.empty() == acceptance.clutch.empty()) {
    fields.Note(Fault::kForm, "subject", "must be an animal or a clutch");
  }
  acceptance.offer = fields.Required<Token>("offer", from.offer_token());
  if (from.agreement_digests_size() > kDigestsMax) {
    fields.Note(Fault::kForm, "list of digests", "is too long");
    return acceptance;
  }
  for (const std::string& digest : from.agreement_digests()) {
    acceptance.agreement_digests.push_back(fields.Fixed<Hash>("digest of an agreement", digest));
  }
  return acceptance;
}

}  // namespace broodpact::facts::internal
