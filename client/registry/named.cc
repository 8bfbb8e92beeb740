// Which subjects each kind of statement names.

#include "client/base/signature.h"
#include "client/registry/internal/rules.h"

namespace broodpact::registry {
namespace {

using Names = std::vector<IdBytes>;

Names Of(const facts::Unknown& s) {
  return s.subjects;
}
Names Of(const facts::Founding&) {
  return {};
}
Names Of(const facts::Invitation& s) {
  return {InviteOf(s.invite_key).bytes};
}
Names Of(const facts::Joining& s) {
  return {InviteOf(s.invite_key).bytes, s.keeper.bytes};
}
Names Of(const facts::Restatement&) {
  return {};  // what it states again is folded as it is, and names for itself
}
Names Of(const facts::GroupEntry& s) {
  return {s.group.bytes};
}
Names Of(const facts::AnimalEntry& s) {
  return {s.animal.bytes, s.group.bytes, s.sire.bytes, s.dam.bytes};
}
Names Of(const facts::Moult& s) {
  return {s.animal.bytes};
}
Names Of(const facts::Maturity& s) {
  return {s.animal.bytes};
}
Names Of(const facts::SexClaim& s) {
  return {s.animal.bytes};
}
Names Of(const facts::Death& s) {
  return {s.animal.bytes};
}
Names Of(const facts::Gift& s) {
  Names names = {s.animal.bytes, s.receiver.bytes};
  for (const LoanId& loan : s.due_loans) names.push_back(loan.bytes);
  return names;
}
Names Of(const facts::NameUse& s) {
  return {s.group.bytes};
}
Names Of(const facts::GroupMove& s) {
  Names names = {s.group.bytes};
  for (const AnimalId& animal : s.animals) names.push_back(animal.bytes);
  return names;
}
Names Of(const facts::GroupClosure& s) {
  return {s.group.bytes, s.successor.bytes};
}
Names Of(const facts::FounderKinship& s) {
  return {s.group.bytes};
}
Names Of(const facts::LoanProposal& s) {
  Names names = {s.parsed.loan.bytes, s.parsed.animal.bytes};
  for (const facts::Party& party : s.parsed.terms.parties) names.push_back(party.keeper.bytes);
  return names;
}
Names Of(const facts::LoanAmendment& s) {
  Names names = {s.parsed.loan.bytes};
  for (const facts::Party& party : s.parsed.terms.parties) names.push_back(party.keeper.bytes);
  for (const ClutchId& clutch : s.parsed.clutches) names.push_back(clutch.bytes);
  return names;
}
Names Of(const facts::LoanSignature& s) {
  return {s.loan.bytes};
}
Names Of(const facts::LoanRefusal& s) {
  return {s.loan.bytes};
}
Names Of(const facts::Dispatch& s) {
  return {s.loan.bytes, s.receiver.bytes};
}
Names Of(const facts::Receipt& s) {
  return {s.loan.bytes};
}
Names Of(const facts::LoanClosure& s) {
  return {s.loan.bytes};
}
Names Of(const facts::Pairing& s) {
  return {s.pairing.bytes, s.male.bytes, s.female.bytes, s.loan.bytes};
}
Names Of(const facts::SacLaying& s) {
  return {s.clutch.bytes, s.female.bytes, s.loan.bytes};
}
Names Of(const facts::SacPulling& s) {
  return {s.clutch.bytes};
}
Names Of(const facts::SacLoss& s) {
  return {s.clutch.bytes};
}
Names Of(const facts::Count& s) {
  return {s.clutch.bytes};
}
Names Of(const facts::SplitRecord& s) {
  Names names = {s.clutch.bytes};
  for (const facts::SplitShare& share : s.shares) {
    names.push_back(share.keeper.bytes);
    names.push_back(share.lot.bytes);
  }
  return names;
}
Names Of(const facts::LotDispatch& s) {
  return {s.lot.bytes, s.parcel.bytes, s.receiver.bytes, s.replaced.bytes};
}
Names Of(const facts::LotReceipt& s) {
  return {s.parcel.bytes};
}
Names Of(const facts::LotLoss& s) {
  return {s.lot.bytes};
}
Names Of(const facts::LotRaising& s) {
  return {s.lot.bytes, s.animal.bytes};
}
Names Of(const facts::TermsForm& s) {
  return {s.form.bytes};
}
Names Of(const facts::CountWitness& s) {
  return {s.clutch.bytes};
}

Names Of(const facts::Objection& s) {
  return {s.clutch.bytes};
}
Names Of(const facts::ClashWithdrawal& s) {
  return {s.clash.bytes};
}
Names Of(const facts::ClashSettlement& s) {
  Names names = {s.clash.bytes};
  for (const facts::SplitShare& share : s.shares) names.push_back(share.lot.bytes);
  for (const facts::LotMove& move : s.moves) {
    names.push_back(move.lot.bytes);
    names.push_back(move.new_lot.bytes);
    names.push_back(move.keeper.bytes);
  }
  return names;
}
Names Of(const facts::ClashSignature& s) {
  return {s.clash.bytes};
}
Names Of(const facts::LateHatching& s) {
  return {s.clutch.bytes};
}
Names Of(const facts::ShareWaiver& s) {
  return {s.clutch.bytes, s.party.bytes, s.receiver.bytes};
}
Names Of(const facts::LotReturn& s) {
  return {s.lot.bytes};
}
Names Of(const facts::LotPassing& s) {
  return {s.lot.bytes, s.new_lot.bytes, s.receiver.bytes};
}
Names Of(const facts::LotDivision& s) {
  return {s.lot.bytes, s.new_lot.bytes};
}
Names Of(const facts::LotMerging& s) {
  Names names = {s.lot.bytes};
  for (const LotId& lot : s.merged) names.push_back(lot.bytes);
  return names;
}
Names Of(const facts::Succession& s) {
  return {s.keeper.bytes, s.successor.bytes};
}
Names Of(const facts::SacGift& s) {
  return {s.clutch.bytes, s.receiver.bytes, s.due_loan.bytes};
}
Names Of(const facts::DueAcceptance& s) {
  return {s.animal.bytes, s.clutch.bytes};
}
Names Of(const facts::PlanVeto& s) {
  return {s.animal.bytes, s.other_animal.bytes, s.other_keeper.bytes};
}
Names Of(const facts::WantEntry& s) {
  return {s.want.bytes, s.group.bytes};
}
Names Of(const facts::WantEnd& s) {
  return {s.want.bytes};
}
Names Of(const facts::DeviceInvitation& s) {
  return {InviteOf(s.invite_key).bytes, s.keeper.bytes};
}
Names Of(const facts::DeviceJoining& s) {
  return {InviteOf(s.invite_key).bytes, s.keeper.bytes};
}
Names Of(const facts::Revocation& s) {
  return {s.device.bytes};
}
Names Of(const facts::Adoption&) {
  return {};  // what it states again is folded as it is, and names for itself
}
Names Of(const facts::KeyRotation& s) {
  return {DeviceOf(s.device_key).bytes};
}
Names Of(const facts::RoleChange& s) {
  return {s.keeper.bytes};
}
Names Of(const facts::MotionSignature& s) {
  return {s.motion.bytes};
}
Names Of(const facts::Leaving&) {
  return {};
}
Names Of(const facts::LeaseTaking& s) {
  return {s.animal.bytes, s.lot.bytes};
}
Names Of(const facts::LeaseRelease& s) {
  return {s.animal.bytes, s.lot.bytes};
}
Names Of(const facts::SealingKeyEntry&) {
  return {};
}
Names Of(const facts::SealedEntry& s) {
  Names names = {s.note.bytes, s.subject};
  for (const SealedNoteId& note : s.replaced) names.push_back(note.bytes);
  for (const KeeperId& reader : s.readers) names.push_back(reader.bytes);
  return names;
}
Names Of(const facts::Resealing& s) {
  return {s.note.bytes};
}

}  // namespace

std::vector<IdBytes> NamedBy(const facts::Statement& statement) {
  Names names = std::visit([](const auto& s) { return Of(s); }, statement);
  // An empty id names nothing.
  std::erase(names, IdBytes{});
  return names;
}

}  // namespace broodpact::registry
