// Loans, the versions of their agreements and saved terms as messages.

#include <algorithm>
#include <optional>
#include <string>
#include <vector>

#include "client/facts/terms.h"
#include "client/replica/internal/messages.h"
#include "client/replica/internal/terms_text.h"
#include "client/replica/internal/words.h"
#include "client/shares/split.h"

namespace broodpact::replica {
namespace {

using Signatures = std::vector<registry::SignatureRecord>;

v1::LoanSigner SignerOf(const v1::Ref& keeper, const KeeperId& id, const Signatures& signatures) {
  v1::LoanSigner signer;
  *signer.mutable_keeper() = keeper;
  const auto signature = std::ranges::find(signatures, id, &registry::SignatureRecord::keeper);
  if (signature != signatures.end()) {
    signer.set_signature_time(InstantText(signature->entry.time_ms));
  }
  return signer;
}

}  // namespace

template <typename Message>
void Messages::WriteTerms(const facts::Agreement& agreement, const Signatures& signatures,
                          Message& message) {
  for (const facts::Party& party : agreement.terms.parties) {
    v1::LoanSigner& signer = *message.add_signers();
    signer = SignerOf(refs_.Ref(party.keeper), party.keeper, signatures);
    signer.set_role(std::string(PartyRoleWord(party.role)));
  }
  const shares::ClauseNames names = NamesFor(agreement.terms, refs_);
  for (std::string& clause : shares::Clauses(agreement.terms, names)) {
    message.add_clauses(std::move(clause));
  }
  for (v1::Remark& remark : RemarksOf(agreement.terms, agreement.return_day, names.parties)) {
    *message.add_findings() = std::move(remark);
  }
  if (agreement.return_day) message.set_return_day(ToText(*agreement.return_day));
}

v1::LoanVersion Messages::Of(const registry::LoanVersion& version, const registry::Loan& loan) {
  v1::LoanVersion message;
  message.set_agreement_digest(ToHex(version.digest));
  message.set_state(std::string(VersionStateWord(version.state)));
  const absl::StatusOr<facts::Agreement> agreement = facts::ParseAgreement(version.agreement);
  if (agreement.ok()) {
    WriteTerms(*agreement, version.signatures, message);
    for (const ClutchId& clutch : agreement->clutches) {
      *message.add_clutches() = refs_.Ref(clutch);
    }
  }
  // Whom it leaves out signs that too.
  if (version.state != registry::VersionState::kReplaced) {
    for (const KeeperId& party : loan.parties) {
      if (std::ranges::find(version.parties, party) != version.parties.end()) continue;
      *message.add_signers() = SignerOf(refs_.Ref(party), party, version.signatures);
    }
  }
  if (version.open_until) message.set_open_until_day(ToText(*version.open_until));
  message.set_reason(version.reason);
  return message;
}

v1::Loan Messages::Of(const registry::Loan& loan) {
  v1::Loan message;
  message.set_id(ToText(loan.id));
  message.set_name(loan.name.empty() ? ToShortText(loan.id) : loan.name);
  *message.mutable_animal() = refs_.Ref(loan.animal);
  *message.mutable_lender() = refs_.Ref(loan.lender);
  *message.mutable_borrower() = refs_.Ref(loan.borrower);
  message.set_state(std::string(LoanStateWord(loan.state)));
  message.set_agreement_digest(ToHex(loan.agreement_digest));
  const absl::StatusOr<facts::Agreement> agreement = facts::ParseAgreement(loan.agreement);
  if (agreement.ok()) WriteTerms(*agreement, loan.signatures, message);
  if (const auto animal = Find<registry::Animal>(loan.animal)) {
    *message.mutable_holder() = refs_.Ref(animal->holder);
    const bool travels = animal->loan == loan.id && !animal->receiver.empty();
    if (travels) *message.mutable_receiver() = refs_.Ref(animal->receiver);
  }
  message.set_dispatch_day(DayText(loan.dispatch));
  message.set_receipt_day(DayText(loan.receipt));
  message.set_closure_day(DayText(loan.closure));
  message.set_reason(loan.reason);
  const bool open =
      loan.state == registry::LoanState::kOffered || loan.state == registry::LoanState::kAskedFor;
  if (open && loan.open_until) message.set_open_until_day(ToText(*loan.open_until));
  for (const registry::LoanVersion& version : loan.versions) {
    *message.add_versions() = Of(version, loan);
  }
  message.set_standing(StandingOf(registry::Kind::kLoan, loan.id.bytes));
  return message;
}

v1::SavedTerms Messages::Of(const registry::Form& form) {
  v1::SavedTerms message;
  message.set_id(ToText(form.id));
  message.set_name(form.name);
  *message.mutable_keeper() = refs_.Ref(form.entry.keeper);
  message.set_time(InstantText(form.entry.time_ms));
  message.set_version(form.version);
  message.set_standing(StandingOf(registry::Kind::kForm, form.id.bytes));
  const absl::StatusOr<facts::Terms> terms = facts::ParseFormTerms(form.terms);
  if (!terms.ok()) return message;
  const shares::ClauseNames names = NamesFor(*terms, refs_);
  for (const facts::Party& party : terms->parties) {
    message.add_roles(std::string(PartyRoleWord(party.role)));
  }
  for (std::string& clause : shares::Clauses(*terms, names)) {
    message.add_clauses(std::move(clause));
  }
  // When an animal is due back a form cannot say.
  for (v1::Remark& remark : RemarksOf(*terms, std::nullopt, names.parties)) {
    *message.add_findings() = std::move(remark);
  }
  return message;
}

}  // namespace broodpact::replica
