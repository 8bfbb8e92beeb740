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

// parse_animal.cc
GroupEntry Parse(const v1::GroupEntry& from, Fields& fields);
AnimalEntry Parse(const v1::AnimalEntry& from, Fields& fields);
Moult Parse(const v1::Moult& from, Fields& fields);
Maturity Parse(const v1::Maturity& from, Fields& fields);
SexClaim Parse(const v1::SexClaim& from, Fields& fields);
Death Parse(const v1::Death& from, Fields& fields);
Gift Parse(const v1::Gift& from, Fields& fields);

// parse_loan.cc
LoanProposal Parse(const v1::LoanProposal& from, Fields& fields);
LoanSignature Parse(const v1::LoanSignature& from, Fields& fields);
LoanRefusal Parse(const v1::LoanRefusal& from, Fields& fields);
Dispatch Parse(const v1::Dispatch& from, Fields& fields);
Receipt Parse(const v1::Receipt& from, Fields& fields);
LoanClosure Parse(const v1::LoanClosure& from, Fields& fields);

// parse_clutch.cc
Pairing Parse(const v1::PairingEntry& from, Fields& fields);
SacLaying Parse(const v1::SacLaying& from, Fields& fields);
SacPulling Parse(const v1::SacPulling& from, Fields& fields);
SacLoss Parse(const v1::SacLoss& from, Fields& fields);
Count Parse(const v1::Count& from, Fields& fields);
SplitRecord Parse(const v1::SplitRecord& from, Fields& fields);

// parse_lot.cc
LotDispatch Parse(const v1::LotDispatch& from, Fields& fields);
LotReceipt Parse(const v1::LotReceipt& from, Fields& fields);
LotLoss Parse(const v1::LotLoss& from, Fields& fields);
LotRaising Parse(const v1::LotRaising& from, Fields& fields);

// parse_plan.cc
PlanVeto Parse(const v1::PlanVeto& from, Fields& fields);
WantEntry Parse(const v1::WantEntry& from, Fields& fields);
WantEnd Parse(const v1::WantEnd& from, Fields& fields);

}  // namespace broodpact::facts::internal
