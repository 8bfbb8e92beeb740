#pragma once

// Writes each kind of statement into its message: one function a kind, by the statement's type.

#include <string>

#include "broodpact/v1/commit.pb.h"
#include "broodpact/v1/terms.pb.h"
#include "client/facts/statement.h"

namespace broodpact::facts::internal {

// A hash, key, signature or id as the bytes of a field. An empty id is an empty field.
template <typename Array>
std::string FieldOf(const Array& array) {
  return {array.begin(), array.end()};
}
template <typename Kind>
std::string FieldOf(const Id<Kind>& id) {
  return id.empty() ? std::string() : std::string(ViewOf(id.bytes));
}

inline void Build(const DaySpan& span, v1::DaySpan& to) {
  to.set_earliest_day(span.earliest.number);
  to.set_latest_day(span.latest.number);
  to.set_certainty(static_cast<v1::DayCertainty>(span.certainty));
}

// build_membership.cc
void Build(const Founding& from, v1::Statement& to);
void Build(const Invitation& from, v1::Statement& to);
void Build(const Joining& from, v1::Statement& to);
void Build(const Restatement& from, v1::Statement& to);

// build_animal.cc
void Build(const GroupEntry& from, v1::Statement& to);
void Build(const AnimalEntry& from, v1::Statement& to);
void Build(const Moult& from, v1::Statement& to);
void Build(const Maturity& from, v1::Statement& to);
void Build(const SexClaim& from, v1::Statement& to);
void Build(const Death& from, v1::Statement& to);
void Build(const Gift& from, v1::Statement& to);

// build_group.cc
void Build(const NameUse& from, v1::Statement& to);
void Build(const GroupMove& from, v1::Statement& to);
void Build(const GroupClosure& from, v1::Statement& to);
void Build(const FounderKinship& from, v1::Statement& to);

// build_loan.cc
void Build(const LoanProposal& from, v1::Statement& to);
void Build(const LoanSignature& from, v1::Statement& to);
void Build(const LoanAmendment& from, v1::Statement& to);
void Build(const LoanRefusal& from, v1::Statement& to);
void Build(const Dispatch& from, v1::Statement& to);
void Build(const Receipt& from, v1::Statement& to);
void Build(const LoanClosure& from, v1::Statement& to);
void Build(const TermsForm& from, v1::Statement& to);

// build_clutch.cc
void Build(const Pairing& from, v1::Statement& to);
void Build(const SacLaying& from, v1::Statement& to);
void Build(const SacPulling& from, v1::Statement& to);
void Build(const SacLoss& from, v1::Statement& to);
void Build(const Count& from, v1::Statement& to);
void Build(const SplitRecord& from, v1::Statement& to);
void Build(const SplitShare& from, v1::SplitShare& to);
void Build(const CountWitness& from, v1::Statement& to);

// build_lot.cc
void Build(const LotDispatch& from, v1::Statement& to);
void Build(const LotReceipt& from, v1::Statement& to);
void Build(const LotLoss& from, v1::Statement& to);
void Build(const LotRaising& from, v1::Statement& to);

// build_settlement.cc
void Build(const Objection& from, v1::Statement& to);
void Build(const ClashWithdrawal& from, v1::Statement& to);
void Build(const ClashSettlement& from, v1::Statement& to);
void Build(const ClashSignature& from, v1::Statement& to);
void Build(const Succession& from, v1::Statement& to);
void Build(const SacGift& from, v1::Statement& to);
void Build(const DueAcceptance& from, v1::Statement& to);

// build_sling.cc
void Build(const LateHatching& from, v1::Statement& to);
void Build(const ShareWaiver& from, v1::Statement& to);
void Build(const LotReturn& from, v1::Statement& to);
void Build(const LotPassing& from, v1::Statement& to);
void Build(const LotDivision& from, v1::Statement& to);
void Build(const LotMerging& from, v1::Statement& to);
// build_plan.cc
void Build(const PlanVeto& from, v1::Statement& to);
void Build(const WantEntry& from, v1::Statement& to);
void Build(const WantEnd& from, v1::Statement& to);

// build_device.cc
void Build(const DeviceInvitation& from, v1::Statement& to);
void Build(const DeviceJoining& from, v1::Statement& to);
void Build(const Revocation& from, v1::Statement& to);
void Build(const Adoption& from, v1::Statement& to);
void Build(const KeyRotation& from, v1::Statement& to);
void Build(const RoleChange& from, v1::Statement& to);
void Build(const MotionSignature& from, v1::Statement& to);
void Build(const Leaving& from, v1::Statement& to);

// build_lease.cc
void Build(const LeaseTaking& from, v1::Statement& to);
void Build(const LeaseRelease& from, v1::Statement& to);

// build_sealed.cc
void Build(const SealingKeyEntry& from, v1::Statement& to);
void Build(const SealedEntry& from, v1::Statement& to);
void Build(const Resealing& from, v1::Statement& to);

// build_terms.cc
void Build(const Terms& from, v1::Terms& to);

}  // namespace broodpact::facts::internal
