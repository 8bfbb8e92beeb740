#include "client/facts/internal/build.h"

namespace broodpact::facts::internal {

void Build(const LoanProposal& from, v1::Statement& to) {
  v1::LoanProposal& proposal = *to.mutable_loan_proposal();
  proposal.set_agreement(from.agreement);
  proposal.set_name(from.name);
  if (from.open_until) proposal.set_open_until_day(from.open_until->number);
}

void Build(const LoanAmendment& from, v1::Statement& to) {
  v1::LoanAmendment& amendment = *to.mutable_loan_amendment();
  amendment.set_agreement(from.agreement);
  if (from.open_until) amendment.set_open_until_day(from.open_until->number);
}

void Build(const LoanSignature& from, v1::Statement& to) {
  v1::LoanSignature& signature = *to.mutable_loan_signature();
  signature.set_loan_id(FieldOf(from.loan));
  signature.set_agreement_digest(FieldOf(from.agreement_digest));
}

void Build(const LoanRefusal& from, v1::Statement& to) {
  v1::LoanRefusal& refusal = *to.mutable_loan_refusal();
  refusal.set_loan_id(FieldOf(from.loan));
  refusal.set_reason(from.reason);
  if (from.agreement_digest != Hash{}) {
    refusal.set_agreement_digest(FieldOf(from.agreement_digest));
  }
}

void Build(const Dispatch& from, v1::Statement& to) {
  v1::Dispatch& dispatch = *to.mutable_dispatch();
  dispatch.set_loan_id(FieldOf(from.loan));
  dispatch.set_receiver_id(FieldOf(from.receiver));
  dispatch.set_holder_token(FieldOf(from.holder_token));
  Build(from.day, *dispatch.mutable_day());
}

void Build(const Receipt& from, v1::Statement& to) {
  v1::Receipt& receipt = *to.mutable_receipt();
  receipt.set_loan_id(FieldOf(from.loan));
  Build(from.day, *receipt.mutable_day());
  receipt.set_condition(static_cast<v1::ArrivalCondition>(from.condition));
}

void Build(const LoanClosure& from, v1::Statement& to) {
  v1::LoanClosure& closure = *to.mutable_loan_closure();
  closure.set_loan_id(FieldOf(from.loan));
  Build(from.day, *closure.mutable_day());
  closure.set_reason(from.reason);
}

void Build(const TermsForm& from, v1::Statement& to) {
  to.add_subject_ids(FieldOf(from.form));
  v1::TermsForm& form = *to.mutable_terms_form();
  form.set_form_id(FieldOf(from.form));
  form.set_name(from.name);
  form.set_terms(from.terms);
  form.set_form_token(FieldOf(from.form_token));
}

}  // namespace broodpact::facts::internal
