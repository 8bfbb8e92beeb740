#include "client/replica/acts_loan.h"

#include "client/replica/internal/own_names.h"

namespace broodpact::replica {
namespace {

// So much of a digest is shown where it only tells versions apart.
constexpr std::size_t kDigestShortSize = 8;

absl::Status CheckDays(const Replica& replica, std::optional<Day> return_day,
                       std::optional<Day> open_until) {
  const Day today = replica.clock().Today();
  if (return_day && *return_day < today) {
    return Fail(absl::StatusCode::kInvalidArgument, "DATE_PAST",
                fmt::format("the animal cannot be due back on {}, which is past; name a later day",
                            ToText(*return_day)));
  }
  if (open_until && *open_until < today) {
    return Fail(absl::StatusCode::kInvalidArgument, "DATE_PAST",
                fmt::format("nobody could sign until {}, which is past; name a later day",
                            ToText(*open_until)));
  }
  return absl::OkStatus();
}

// The agreement that is offered, if it is the one that is meant.
absl::StatusOr<Hash> OfferedVersion(const registry::Loan& loan, std::string_view digest) {
  const std::string offered = ToHex(loan.agreement_digest);
  if (offered.starts_with(digest)) return loan.agreement_digest;
  return Fail(
      absl::StatusCode::kNotFound, "NO_VERSION",
      fmt::format("the loan is not in force, and the digest of its agreement does not begin "
                  "with {}: it is {}",
                  digest, offered.substr(0, kDigestShortSize)));
}

// The version that a signature or a refusal is about.
absl::StatusOr<Hash> OpenVersion(const Replica& replica, const LoanId& loan,
                                 std::string_view digest) {
  BP_ASSIGN_OR_RETURN(const registry::Loan known, Known<registry::Loan>(replica, loan, "loan"));
  if (known.in_force_time_ms == 0) return OfferedVersion(known, digest);
  std::vector<Hash> fitting;
  std::string open;
  for (const registry::LoanVersion& version : known.versions) {
    if (version.state != registry::VersionState::kOpen) continue;
    const std::string text = ToHex(version.digest);
    open += fmt::format("{}{}", open.empty() ? "" : ", ", text.substr(0, kDigestShortSize));
    if (text.starts_with(digest)) fitting.push_back(version.digest);
  }
  if (fitting.size() == 1) return fitting.front();
  if (fitting.empty()) {
    return Fail(absl::StatusCode::kNotFound, "NO_VERSION",
                open.empty() ? "the loan is in force and no amendment waits for a signature"
                             : fmt::format("no open amendment has a digest that begins with {}; "
                                           "open are {}",
                                           digest, open));
  }
  return Fail(absl::StatusCode::kInvalidArgument, "AMBIGUOUS_VERSION",
              fmt::format("several amendments are open ({}); say which one by its digest", open));
}

absl::StatusOr<Acted> Dispatch(Replica& replica, const registry::Loan& loan,
                               const KeeperId& receiver, const DaySpan& day) {
  BP_RETURN_IF_ERROR(CheckHasCome(replica, day));
  BP_ASSIGN_OR_RETURN(const registry::Animal animal,
                      Known<registry::Animal>(replica, loan.animal, "animal"));
  return replica.Act({facts::Dispatch{
      .loan = loan.id, .receiver = receiver, .holder_token = animal.holder_token, .day = day}});
}

}  // namespace

absl::StatusOr<facts::LoanProposal> ProposalOf(const Replica& replica, const LoanDraft& draft) {
  BP_RETURN_IF_ERROR(CheckDays(replica, draft.return_day, draft.open_until));
  const facts::Agreement agreement{
      .loan = device::FreshId<LoanId>(replica.randomness()),
      .cooperative = replica.cooperative(),
      .animal = draft.animal,
      .lender = draft.lender,
      .borrower = draft.borrower,
      .return_day = draft.return_day,
      .terms = draft.terms,
  };
  const std::string bytes = facts::BuildAgreement(agreement);
  BP_ASSIGN_OR_RETURN(const facts::Agreement parsed, facts::ParseAgreement(bytes));
  return facts::LoanProposal{.agreement = bytes,
                             .agreement_digest = Sha256(bytes),
                             .parsed = parsed,
                             .name = draft.name,
                             .open_until = draft.open_until};
}

absl::StatusOr<Made<LoanId>> ProposeLoan(Replica& replica, const LoanDraft& draft) {
  BP_RETURN_IF_ERROR(CheckLoanNameFree(replica, draft.name));
  BP_ASSIGN_OR_RETURN(facts::LoanProposal proposal, ProposalOf(replica, draft));
  const LoanId loan = proposal.parsed.loan;
  return ActMaking(replica, loan, std::move(proposal));
}

absl::StatusOr<Amended> AmendLoan(Replica& replica, const AmendmentDraft& draft) {
  BP_RETURN_IF_ERROR(CheckDays(replica, draft.return_day, draft.open_until));
  BP_ASSIGN_OR_RETURN(const registry::Loan known,
                      Known<registry::Loan>(replica, draft.loan, "loan"));
  const facts::Agreement agreement{
      .loan = known.id,
      .cooperative = replica.cooperative(),
      .animal = known.animal,
      .lender = known.lender,
      .borrower = known.borrower,
      .return_day = draft.return_day,
      .terms = draft.terms,
      .replaces = known.agreement_digest,
      .clutches = draft.clutches,
  };
  const std::string bytes = facts::BuildAgreement(agreement);
  BP_ASSIGN_OR_RETURN(const facts::Agreement parsed, facts::ParseAgreement(bytes));
  Amended amended{.digest = Sha256(bytes), .acted = {}};
  BP_ASSIGN_OR_RETURN(amended.acted,
                      replica.Act({facts::LoanAmendment{.agreement = bytes,
                                                        .agreement_digest = amended.digest,
                                                        .parsed = parsed,
                                                        .open_until = draft.open_until}}));
  return amended;
}

absl::StatusOr<Acted> SignLoan(Replica& replica, const LoanId& loan, std::string_view digest) {
  BP_ASSIGN_OR_RETURN(const Hash version, OpenVersion(replica, loan, digest));
  return replica.Act({facts::LoanSignature{.loan = loan, .agreement_digest = version}});
}

absl::StatusOr<Acted> RefuseLoan(Replica& replica, const LoanId& loan, const std::string& reason,
                                 std::string_view digest) {
  BP_ASSIGN_OR_RETURN(const Hash version, OpenVersion(replica, loan, digest));
  return replica.Act(
      {facts::LoanRefusal{.loan = loan, .reason = reason, .agreement_digest = version}});
}

absl::StatusOr<Acted> SendAnimal(Replica& replica, const LoanId& loan, const DaySpan& day) {
  BP_ASSIGN_OR_RETURN(const registry::Loan known, Known<registry::Loan>(replica, loan, "loan"));
  return Dispatch(replica, known, known.borrower, day);
}

absl::StatusOr<Acted> ReturnAnimal(Replica& replica, const LoanId& loan, const DaySpan& day) {
  BP_ASSIGN_OR_RETURN(const registry::Loan known, Known<registry::Loan>(replica, loan, "loan"));
  return Dispatch(replica, known, known.lender, day);
}

absl::StatusOr<Acted> ReceiveAnimal(Replica& replica, const facts::Receipt& receipt) {
  BP_RETURN_IF_ERROR(CheckHasCome(replica, receipt.day));
  return replica.Act({receipt});
}

absl::StatusOr<Acted> CloseLoan(Replica& replica, const facts::LoanClosure& closure) {
  BP_RETURN_IF_ERROR(CheckHasCome(replica, closure.day));
  return replica.Act({closure});
}

}  // namespace broodpact::replica
