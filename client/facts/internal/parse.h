#pragma once

// Reads each kind of statement from its message: one function a kind, by the message's type. Faults
// go to `fields`; the value is then worthless.

#include "broodpact/v1/commit.pb.h"
#include "client/facts/internal/fields.h"
#include "client/facts/statement.h"

namespace broodpact::facts::internal {

// parse_membership.cc
Founding Parse(const v1::Founding& from, Fields& fields);
Invitation Parse(const v1::Invitation& from, Fields& fields);
Joining Parse(const v1::Joining& from, Fields& fields);

// parse.cc
Restatement Parse(const v1::Restatement& from, Fields& fields);

// parse_animal.cc
GroupEntry Parse(const v1::GroupEntry& from, Fields& fields);
AnimalEntry Parse(const v1::AnimalEntry& from, Fields& fields);
Moult Parse(const v1::Moult& from, Fields& fields);
Maturity Parse(const v1::Maturity& from, Fields& fields);
SexClaim Parse(const v1::SexClaim& from, Fields& fields);
Death Parse(const v1::Death& from, Fields& fields);
Gift Parse(const v1::Gift& from, Fields& fields);

// parse_group.cc
NameUse Parse(const v1::NameUse& from, Fields& fields);
GroupMove Parse(const v1::GroupMove& from, Fields& fields);
GroupClosure Parse(const v1::GroupClosure& from, Fields& fields);
FounderKinship Parse(const v1::FounderKinship& from, Fields& fields);

// parse_loan.cc
LoanProposal Parse(const v1::LoanProposal& from, Fields& fields);
LoanSignature Parse(const v1::LoanSignature& from, Fields& fields);
LoanAmendment Parse(const v1::LoanAmendment& from, Fields& fields);
LoanRefusal Parse(const v1::LoanRefusal& from, Fields& fields);
Dispatch Parse(const v1::Dispatch& from, Fields& fields);
Receipt Parse(const v1::Receipt& from, Fields& fields);
LoanClosure Parse(const v1::LoanClosure& from, Fields& fields);
TermsForm Parse(const v1::TermsForm& from, Fields& fields);

// parse_clutch.cc
Pairing Parse(const v1::PairingEntry& from, Fields& fields);
SacLaying Parse(const v1::SacLaying& from, Fields& fields);
SacPulling Parse(const v1::SacPulling& from, Fields& fields);
SacLoss Parse(const v1::SacLoss& from, Fields& fields);
Count Parse(const v1::Count& from, Fields& fields);
SplitRecord Parse(const v1::SplitRecord& from, Fields& fields);
SplitShare ParseShare(const v1::SplitShare& from, Fields& fields);
CountWitness Parse(const v1::CountWitness& from, Fields& fields);

// parse_lot.cc
LotDispatch Parse(const v1::LotDispatch& from, Fields& fields);
LotReceipt Parse(const v1::LotReceipt& from, Fields& fields);
LotLoss Parse(const v1::LotLoss& from, Fields& fields);
LotRaising Parse(const v1::LotRaising& from, Fields& fields);

// parse_settlement.cc
Objection Parse(const v1::Objection& from, Fields& fields);
ClashWithdrawal Parse(const v1::ClashWithdrawal& from, Fields& fields);
ClashSettlement Parse(const v1::ClashSettlement& from, Fields& fields);
ClashSignature Parse(const v1::ClashSignature& from, Fields& fields);
Succession Parse(const v1::Succession& from, Fields& fields);
SacGift Parse(const v1::SacGift& from, Fields& fields);
DueAcceptance Parse(const v1::DueAcceptance& from, Fields& fields);

// parse_sling.cc
LateHatching Parse(const v1::LateHatching& from, Fields& fields);
ShareWaiver Parse(const v1::ShareWaiver& from, Fields& fields);
LotReturn Parse(const v1::LotReturn& from, Fields& fields);
LotPassing Parse(const v1::LotPassing& from, Fields& fields);
LotDivision Parse(const v1::LotDivision& from, Fields& fields);
LotMerging Parse(const v1::LotMerging& from, Fields& fields);
// parse_plan.cc
PlanVeto Parse(const v1::PlanVeto& from, Fields& fields);
WantEntry Parse(const v1::WantEntry& from, Fields& fields);
WantEnd Parse(const v1::WantEnd& from, Fields& fields);

// parse_device.cc; the adoption: parse.cc
DeviceInvitation Parse(const v1::DeviceInvitation& from, Fields& fields);
DeviceJoining Parse(const v1::DeviceJoining& from, Fields& fields);
Revocation Parse(const v1::Revocation& from, Fields& fields);
Adoption Parse(const v1::Adoption& from, Fields& fields);
KeyRotation Parse(const v1::KeyRotation& from, Fields& fields);
RoleChange Parse(const v1::RoleChange& from, Fields& fields);
MotionSignature Parse(const v1::MotionSignature& from, Fields& fields);
Leaving Parse(const v1::Leaving& from, Fields& fields);

// parse_lease.cc
LeaseTaking Parse(const v1::LeaseTaking& from, Fields& fields);
LeaseRelease Parse(const v1::LeaseRelease& from, Fields& fields);

// parse_sealed.cc
SealingKeyEntry Parse(const v1::SealingKeyEntry& from, Fields& fields);
SealedEntry Parse(const v1::SealedEntry& from, Fields& fields);
Resealing Parse(const v1::Resealing& from, Fields& fields);

}  // namespace broodpact::facts::internal
