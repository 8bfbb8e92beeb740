#include "client/facts/internal/parse.h"

namespace broodpact::facts::internal {

SplitShare ParseShare(const v1::SplitShare& from, Fields& fields) {
  SplitShare share;
  share.keeper = fields.Required<KeeperId>("keeper of a share", from.keeper_id());
  share.slings = fields.Slings("number of slings of a share", from.slings());
  share.lot = fields.Optional<LotId>("lot of a share", from.lot_id());
  if (share.lot.empty() != (share.slings == 0)) {
    fields.Note(Fault::kForm, "lot of a share", "must be there if, and only if, it has slings");
  }
  return share;
}

Pairing Parse(const v1::PairingEntry& from, Fields& fields) {
  fields.EnterKind("pairing");
  Pairing pairing;
  pairing.pairing = fields.Required<PairingId>("pairing", from.pairing_id());
  pairing.male = fields.Required<AnimalId>("male", from.male_id());
  pairing.female = fields.Required<AnimalId>("female", from.female_id());
  pairing.day = fields.Day(from);
  pairing.outcome = fields.OneOf("outcome", from.outcome(), PairingOutcome::kMaleEaten);
  pairing.loan = fields.Optional<LoanId>("loan", from.loan_id());
  pairing.hybrid_intended = from.hybrid_intended();
  return pairing;
}

SacLaying Parse(const v1::SacLaying& from, Fields& fields) {
  fields.EnterKind("sac laying");
  SacLaying laying;
  laying.clutch = fields.Required<ClutchId>("clutch", from.clutch_id());
  laying.female = fields.Required<AnimalId>("female", from.female_id());
  laying.day = fields.Day(from);
  laying.name = fields.NameOrNone("name of the clutch", from.name());
  laying.loan = fields.Optional<LoanId>("loan", from.loan_id());
  return laying;
}

SacPulling Parse(const v1::SacPulling& from, Fields& fields) {
  fields.EnterKind("sac pulling");
  SacPulling pulling;
  pulling.clutch = fields.Required<ClutchId>("clutch", from.clutch_id());
  pulling.day = fields.Day(from);
  return pulling;
}

SacLoss Parse(const v1::SacLoss& from, Fields& fields) {
  fields.EnterKind("sac loss");
  SacLoss loss;
  loss.clutch = fields.Required<ClutchId>("clutch", from.clutch_id());
  loss.day = fields.Day(from);
  loss.cause = fields.Text("cause", from.cause(), kReasonBytesMax);
  return loss;
}

Count Parse(const v1::Count& from, Fields& fields) {
  fields.EnterKind("count");
  Count count;
  count.clutch = fields.Required<ClutchId>("clutch", from.clutch_id());
  count.day = fields.Day(from);
  count.slings_living = fields.Slings("number of living slings", from.slings_living());
  count.slings_dead = fields.Slings("number of dead slings", from.slings_dead());
  count.moult_count = from.moult_count();
  count.count_token = fields.Optional<Token>("count that it replaces", from.count_token());
  return count;
}

SplitRecord Parse(const v1::SplitRecord& from, Fields& fields) {
  fields.EnterKind("split record");
  SplitRecord split;
  split.clutch = fields.Required<ClutchId>("clutch", from.clutch_id());
  split.count_token = fields.Required<Token>("count that it shares out", from.count_token());
  if (from.shares().empty()) fields.Missing("list of shares");
  if (static_cast<std::size_t>(from.shares_size()) > kPartiesMax + kSireOwnersMax) {
    fields.Note(Fault::kForm, "list of shares", "is longer than there can be parties and sires");
    return split;
  }
  split.shares.reserve(static_cast<std::size_t>(from.shares_size()));
  for (const v1::SplitShare& share : from.shares()) {
    split.shares.push_back(ParseShare(share, fields));
  }
  split.carried_slings = from.carried_slings();
  return split;
}

CountWitness Parse(const v1::CountWitness& from, Fields& fields) {
  fields.EnterKind("witness of a count");
  CountWitness witness;
  witness.clutch = fields.Required<ClutchId>("clutch", from.clutch_id());
  witness.count_token = fields.Required<Token>("count", from.count_token());
  witness.day = fields.Day(from);
  return witness;
}

}  // namespace broodpact::facts::internal
