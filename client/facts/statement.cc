#include "client/facts/statement.h"

#include <utility>

namespace broodpact::facts {

Statement::Statement() = default;
Statement::Statement(const Statement& other) = default;
Statement::Statement(Statement&& other) noexcept = default;
Statement& Statement::operator=(const Statement& other) = default;
Statement& Statement::operator=(Statement&& other) noexcept = default;
Statement::~Statement() = default;

bool operator==(const Statement& a, const Statement& b) {
  return static_cast<const StatementKinds&>(a) == static_cast<const StatementKinds&>(b);
}

template <StatementKind Kind>
Statement::Statement(Kind kind) : StatementKinds(std::in_place_type<Kind>, std::move(kind)) {}

template Statement::Statement(Unknown);
template Statement::Statement(Founding);
template Statement::Statement(Invitation);
template Statement::Statement(Joining);
template Statement::Statement(GroupEntry);
template Statement::Statement(AnimalEntry);
template Statement::Statement(Moult);
template Statement::Statement(Maturity);
template Statement::Statement(SexClaim);
template Statement::Statement(Death);
template Statement::Statement(Gift);
template Statement::Statement(LoanProposal);
template Statement::Statement(LoanSignature);
template Statement::Statement(LoanRefusal);
template Statement::Statement(Dispatch);
template Statement::Statement(Receipt);
template Statement::Statement(LoanClosure);
template Statement::Statement(Pairing);
template Statement::Statement(SacLaying);
template Statement::Statement(SacPulling);
template Statement::Statement(SacLoss);
template Statement::Statement(Count);
template Statement::Statement(SplitRecord);
template Statement::Statement(LotDispatch);
template Statement::Statement(LotReceipt);
template Statement::Statement(LotLoss);
template Statement::Statement(LotRaising);
template Statement::Statement(Objection);
template Statement::Statement(ClashWithdrawal);
template Statement::Statement(ClashSettlement);
template Statement::Statement(ClashSignature);
template Statement::Statement(LateHatching);
template Statement::Statement(ShareWaiver);
template Statement::Statement(LotReturn);
template Statement::Statement(LotPassing);
template Statement::Statement(LotDivision);
template Statement::Statement(LotMerging);
template Statement::Statement(Succession);
template Statement::Statement(SacGift);
template Statement::Statement(DueAcceptance);
template Statement::Statement(LoanAmendment);
template Statement::Statement(PlanVeto);
template Statement::Statement(WantEntry);
template Statement::Statement(WantEnd);
template Statement::Statement(NameUse);
template Statement::Statement(GroupMove);
template Statement::Statement(GroupClosure);
template Statement::Statement(Restatement);
template Statement::Statement(TermsForm);
template Statement::Statement(CountWitness);
template Statement::Statement(FounderKinship);
template Statement::Statement(DeviceInvitation);
template Statement::Statement(DeviceJoining);
template Statement::Statement(Revocation);
template Statement::Statement(Adoption);
template Statement::Statement(KeyRotation);
template Statement::Statement(RoleChange);
template Statement::Statement(MotionSignature);
template Statement::Statement(Leaving);
template Statement::Statement(LeaseTaking);
template Statement::Statement(LeaseRelease);
template Statement::Statement(SealingKeyEntry);
template Statement::Statement(SealedEntry);
template Statement::Statement(Resealing);

std::string JoiningMessage(const Hash& cooperative, const KeeperId& keeper,
                           const PublicKey& device_key) {
  using namespace std::string_literals;
  return "broodpact joining v1\0"s.append(ViewOf(cooperative))
      .append(ViewOf(keeper.bytes))
      .append(ViewOf(device_key));
}

std::string RotationMessage(const Hash& cooperative, const DeviceId& device) {
  using namespace std::string_literals;
  return "broodpact rotation v1\0"s.append(ViewOf(cooperative)).append(ViewOf(device.bytes));
}

}  // namespace broodpact::facts
