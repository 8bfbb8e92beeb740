#include <utility>

#include "client/facts/internal/parse.h"

namespace broodpact::facts::internal {

namespace {

std::optional<Day> OpenUntil(std::int32_t day, Fields& fields) {
  if (day == 0) return std::nullopt;
  if (kDayMin <= Day{day} && Day{day} <= kDayMax) return Day{day};
  fields.Note(Fault::kDateOutOfRange, "last day to sign", "is not between 1900 and 2199");
  return std::nullopt;
}

// Reads what is to be signed. A proposal replaces nothing, an amendment does.
template <typename Message, typename Kind>
void TakeAgreement(const Message& from, Kind& to, Fields& fields) {
  auto agreement = ParseAgreement(from.agreement());
  if (!agreement.ok()) {
    fields.Note(Fault::kAgreement, agreement.status());
    return;
  }
  to.parsed = *std::move(agreement);
  to.agreement = from.agreement();
  to.agreement_digest = Sha256(to.agreement);
  to.open_until = OpenUntil(from.open_until_day(), fields);
}

}  // namespace

LoanProposal Parse(const v1::LoanProposal& from, Fields& fields) {
  fields.EnterKind("loan proposal");
  LoanProposal proposal;
  proposal.name = fields.NameOrNone("name of the loan", from.name());
  TakeAgreement(from, proposal, fields);
  if (proposal.parsed.replaces != Hash{}) {
    fields.Note(Fault::kForm, "agreement", "replaces another one, which is for an amendment");
  }
  return proposal;
}

LoanAmendment Parse(const v1::LoanAmendment& from, Fields& fields) {
  fields.EnterKind("loan amendment");
  LoanAmendment amendment;
  TakeAgreement(from, amendment, fields);
  if (!amendment.agreement.empty() && amendment.parsed.replaces == Hash{}) {
    fields.Note(Fault::kForm, "agreement", "does not say which version it replaces");
  }
  return amendment;
}

LoanSignature Parse(const v1::LoanSignature& from, Fields& fields) {
  fields.EnterKind("loan signature");
  LoanSignature signature;
  signature.loan = fields.Required<LoanId>("loan", from.loan_id());
  signature.agreement_digest =
      fields.Fixed<Hash>("digest of the agreement", from.agreement_digest());
  return signature;
}

LoanRefusal Parse(const v1::LoanRefusal& from, Fields& fields) {
  fields.EnterKind("loan refusal");
  LoanRefusal refusal;
  refusal.loan = fields.Required<LoanId>("loan", from.loan_id());
  refusal.reason = fields.Text("reason", from.reason(), kReasonBytesMax);
  if (!from.agreement_digest().empty()) {
    refusal.agreement_digest =
        fields.Fixed<Hash>("digest of the amendment", from.agreement_digest());
  }
  return refusal;
}

Dispatch Parse(const v1::Dispatch& from, Fields& fields) {
  fields.EnterKind("dispatch");
  Dispatch dispatch;
  dispatch.loan = fields.Required<LoanId>("loan", from.loan_id());
  dispatch.receiver = fields.Required<KeeperId>("receiver", from.receiver_id());
  dispatch.holder_token = fields.Required<Token>("token of the holder", from.holder_token());
  dispatch.day = fields.Day(from);
  return dispatch;
}

Receipt Parse(const v1::Receipt& from, Fields& fields) {
  fields.EnterKind("receipt");
  Receipt receipt;
  receipt.loan = fields.Required<LoanId>("loan", from.loan_id());
  receipt.day = fields.Day(from);
  receipt.condition = fields.OneOf("condition", from.condition(), ArrivalCondition::kDead);
  return receipt;
}

LoanClosure Parse(const v1::LoanClosure& from, Fields& fields) {
  fields.EnterKind("loan closure");
  LoanClosure closure;
  closure.loan = fields.Required<LoanId>("loan", from.loan_id());
  closure.day = fields.Day(from);
  closure.reason = fields.Text("reason", from.reason(), kReasonBytesMax);
  return closure;
}

TermsForm Parse(const v1::TermsForm& from, Fields& fields) {
  fields.EnterKind("form of terms");
  TermsForm form;
  form.form = fields.Required<FormId>("form", from.form_id());
  form.name = fields.Name("name of the form", from.name());
  form.form_token = fields.Optional<Token>("version that it replaces", from.form_token());
  auto terms = ParseFormTerms(from.terms());
  if (!terms.ok()) {
    fields.Note(Fault::kAgreement, terms.status());
    return form;
  }
  form.parsed = *std::move(terms);
  form.terms = from.terms();
  return form;
}

}  // namespace broodpact::facts::internal
