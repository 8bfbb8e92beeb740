#pragma once

// broodpact loan: an animal goes to another keeper for breeding, on terms that all parties sign.

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "absl/status/status.h"

#include "cli/desk.h"
#include "cli/grammar/command.h"
#include "cli/terms/terms.h"

namespace broodpact::cli {

// What offering, asking and amending have in common.
struct AgreementOptions {
  std::string until{};
  std::string open_until{};
  std::string form{};  // terms saved under this name
  TermsOptions terms{};
  bool as_is = false;                      // whatever contradicts in the terms
  std::optional<std::uint32_t> preview{};  // slings: show what the terms imply, record nothing
  std::string curve{};                     // sizes: the same for each, record nothing
  std::string svg{};                       // the file that the curve is drawn into
};
struct ProposalOptions {
  std::string animal{};
  std::string name{};
  AgreementOptions agreement{};
};
struct OfferLoanOptions {
  std::string to{};
  ProposalOptions proposal{};
};
struct AskForLoanOptions {
  ProposalOptions proposal{};
};
struct AmendLoanOptions {
  std::string loan{};
  std::vector<std::string> clutches{};
  AgreementOptions agreement{};
};
struct AcceptLoanOptions {
  std::string loan{};
  std::string version{};  // beginning of a digest; empty: the only one that is open
  bool as_is = false;
};
struct DeclineLoanOptions {
  std::string loan{};
  std::string version{};
  std::string reason{};
};
struct SendAnimalOptions {
  std::string loan{};
  std::string on{};
};
struct ReturnAnimalOptions {
  std::string loan{};
  std::string on{};
};
struct ReceiveAnimalOptions {
  std::string loan{};
  std::string on{};
  std::string arrived{};  // well, hurt, dead; empty: not said
};
struct CloseLoanOptions {
  std::string loan{};
  std::string on{};
  std::string reason{};
};
struct ListLoansOptions {
  bool all = false;
};
struct ShowLoanOptions {
  std::string loan{};
};

absl::Status RunOfferLoan(const Desk& desk, const OfferLoanOptions& options);
absl::Status RunAskForLoan(const Desk& desk, const AskForLoanOptions& options);
absl::Status RunAmendLoan(const Desk& desk, const AmendLoanOptions& options);
absl::Status RunAcceptLoan(const Desk& desk, const AcceptLoanOptions& options);
absl::Status RunDeclineLoan(const Desk& desk, const DeclineLoanOptions& options);
absl::Status RunSendAnimal(const Desk& desk, const SendAnimalOptions& options);
absl::Status RunReturnAnimal(const Desk& desk, const ReturnAnimalOptions& options);
absl::Status RunReceiveAnimal(const Desk& desk, const ReceiveAnimalOptions& options);
absl::Status RunCloseLoan(const Desk& desk, const CloseLoanOptions& options);
absl::Status RunListLoans(const Desk& desk, const ListLoansOptions& options);
absl::Status RunShowLoan(const Desk& desk, const ShowLoanOptions& options);

void AddLoanCommands(Command& root);

}  // namespace broodpact::cli
