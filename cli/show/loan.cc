// Loans as tables.

#include <fmt/format.h>

#include "cli/show/show.h"
#include "cli/terminal/table.h"

namespace broodpact::cli {
namespace {

// Who has not signed yet, where signatures still count.
std::string WaitingText(const v1::Loan& loan) {
  if (loan.state() != "offered" && loan.state() != "asked for") return "";
  std::string names;
  for (const v1::LoanSigner& signer : loan.signers()) {
    if (!signer.signature_time().empty()) continue;
    names += (names.empty() ? "" : ", ") + signer.keeper().name();
  }
  return names;
}

// An amendment that is open shows whole; the others only that they were.
void AddVersion(const v1::LoanVersion& version, std::vector<Field>& fields) {
  const std::string digest = version.agreement_digest().substr(0, 8);
  if (version.state() != "open") {
    const std::string reason = version.reason().empty() ? "" : ": " + version.reason();
    fields.emplace_back("version", fmt::format("{} {}{}", digest, version.state(), reason));
    return;
  }
  fields.emplace_back("amendment", fmt::format("{} waits for signatures", digest));
  fields.emplace_back("  open until", version.open_until_day());
  fields.emplace_back("  due back", version.return_day());
  for (const v1::LoanSigner& signer : version.signers()) {
    fields.emplace_back(signer.signature_time().empty() ? "  not signed" : "  signed",
                        fmt::format("{} {}", signer.keeper().name(), signer.signature_time()));
  }
  int number = 0;
  for (const std::string& clause : version.clauses()) {
    fields.emplace_back(fmt::format("  clause {}", ++number), clause);
  }
  for (const v1::Ref& clutch : version.clutches()) fields.emplace_back("  covers", clutch.name());
  for (const v1::Remark& finding : version.findings()) {
    fields.emplace_back("  " + finding.severity(), finding.text());
  }
}

}  // namespace

void Print(const Terminal& terminal, const v1::Loan& loan) {
  std::vector<Field> fields = {{"loan", loan.name()},
                               {"id", loan.id()},
                               {"animal", loan.animal().name()},
                               {"lender", loan.lender().name()},
                               {"borrower", loan.borrower().name()},
                               {"state", loan.state()},
                               {"because", loan.reason()},
                               {"open until", loan.open_until_day()},
                               {"due back", loan.return_day()},
                               {"holder", loan.holder().name()},
                               {"on its way to", loan.receiver().name()},
                               {"sent", loan.dispatch_day()},
                               {"received", loan.receipt_day()},
                               {"closed", loan.closure_day()}};
  for (const v1::LoanSigner& signer : loan.signers()) {
    const std::string role = signer.role().empty() ? "" : fmt::format(" ({})", signer.role());
    fields.emplace_back(
        signer.signature_time().empty() ? "not signed" : "signed",
        fmt::format("{}{} {}", signer.keeper().name(), role, signer.signature_time()));
  }
  int number = 0;
  for (const std::string& clause : loan.clauses()) {
    fields.emplace_back(fmt::format("clause {}", ++number), clause);
  }
  fields.emplace_back("digest", loan.agreement_digest());
  for (const v1::LoanVersion& version : loan.versions()) AddVersion(version, fields);
  fields.emplace_back("standing", StandingText(loan.standing()));
  PrintFields(terminal, fields);
}

void Print(const Terminal& terminal, const v1::LoanList& list) {
  std::vector<Row> rows;
  for (const v1::Loan& loan : list.loans()) {
    rows.push_back({loan.name(), loan.animal().name(), loan.lender().name(), loan.borrower().name(),
                    loan.state(), WaitingText(loan), loan.return_day(), ShortId(loan.id()),
                    StandingText(loan.standing())});
  }
  PrintTable(terminal,
             {"LOAN", "ANIMAL", "LENDER", "BORROWER", "STATE", "UNSIGNED BY", "DUE BACK", "ID", ""},
             rows);
}

void Print(const Terminal& terminal, const v1::SavedTerms& form) {
  std::string roles;
  for (const std::string& role : form.roles()) roles += (roles.empty() ? "" : ", ") + role;
  std::vector<Field> fields = {{"terms", form.name()},
                               {"id", form.id()},
                               {"version", std::to_string(form.version())},
                               {"saved by", form.keeper().name()},
                               {"saved", form.time()},
                               {"roles", roles}};
  int number = 0;
  for (const std::string& clause : form.clauses()) {
    fields.emplace_back(fmt::format("clause {}", ++number), clause);
  }
  for (const v1::Remark& finding : form.findings()) {
    fields.emplace_back(finding.severity(), finding.text());
  }
  fields.emplace_back("standing", StandingText(form.standing()));
  PrintFields(terminal, fields);
}

void Print(const Terminal& terminal, const v1::SavedTermsList& list) {
  std::vector<Row> rows;
  for (const v1::SavedTerms& form : list.forms()) {
    std::string roles;
    for (const std::string& role : form.roles()) roles += (roles.empty() ? "" : ", ") + role;
    rows.push_back({form.name(), std::to_string(form.version()), form.keeper().name(), roles,
                    ShortId(form.id()), StandingText(form.standing())});
  }
  PrintTable(terminal, {"TERMS", "VERSION", "SAVED BY", "ROLES", "ID", ""}, rows);
}

}  // namespace broodpact::cli
