#include <algorithm>
#include <set>

#include <fmt/format.h>

#include "broodpact/v1/terms.pb.h"
#include "client/base/status.h"
#include "client/facts/internal/build.h"
#include "client/facts/internal/message.h"
#include "client/facts/internal/terms.h"
#include "client/facts/terms.h"

namespace broodpact::facts {
namespace {

using internal::Fault;
using internal::FormFault;
using internal::Naming;
using internal::TakeFixed;

// The message, if all of it is known to this version.
template <typename Message>
absl::Status Read(std::string_view bytes, Message& message) {
  if (bytes.size() > kAgreementBytesMax) {
    return FormFault(
        fmt::format("it has {} bytes; at most {} are allowed", bytes.size(), kAgreementBytesMax));
  }
  if (const auto fault = internal::ReadMessage(bytes, message)) {
    if (fault->text_at.empty()) return FormFault("the bytes are no agreement");
    return Fault("TEXT_MALFORMED", fmt::format("{} is not UTF-8; enter it again", fault->text_at));
  }
  if (!internal::HasUnknownField(message)) return absl::OkStatus();
  return FormFault("it has a clause that this version does not know; install a newer one");
}

absl::StatusOr<Agreement> Take(const v1::Agreement& from) {
  Agreement agreement;
  BP_RETURN_IF_ERROR(TakeFixed("id of the loan", from.loan_id(), agreement.loan.bytes));
  BP_RETURN_IF_ERROR(
      TakeFixed("id of the cooperative", from.cooperative_id(), agreement.cooperative));
  BP_RETURN_IF_ERROR(TakeFixed("id of the animal", from.animal_id(), agreement.animal.bytes));
  BP_RETURN_IF_ERROR(TakeFixed("id of the lender", from.lender_id(), agreement.lender.bytes));
  BP_RETURN_IF_ERROR(TakeFixed("id of the borrower", from.borrower_id(), agreement.borrower.bytes));
  if (from.return_day() != 0) agreement.return_day = Day{from.return_day()};
  BP_ASSIGN_OR_RETURN(agreement.terms, internal::TakeTerms(from.terms(), Naming::kKeepers));
  if (!from.replaces_digest().empty()) {
    BP_RETURN_IF_ERROR(TakeFixed("digest of the version that it replaces", from.replaces_digest(),
                                 agreement.replaces));
  }
  for (const std::string& clutch : from.clutch_ids()) {
    BP_RETURN_IF_ERROR(
        TakeFixed("id of a clutch", clutch, agreement.clutches.emplace_back().bytes));
  }
  return agreement;
}

absl::Status CheckPartyCount(const std::vector<Party>& parties) {
  if (parties.empty()) return Fault("NO_PARTIES", "it names no parties; name lender and borrower");
  if (parties.size() <= kPartiesMax) return absl::OkStatus();
  return Fault("TOO_MANY_PARTIES", fmt::format("it has {} parties; at most {} are allowed",
                                               parties.size(), kPartiesMax));
}

absl::Status CheckParties(const Agreement& agreement) {
  const std::vector<Party>& parties = agreement.terms.parties;
  BP_RETURN_IF_ERROR(CheckPartyCount(parties));
  std::set<KeeperId> keepers;
  for (const Party& party : parties) {
    if (!keepers.insert(party.keeper).second) {
      return Fault("PARTY_TWICE", "a keeper is a party twice; name each once");
    }
  }
  if (!keepers.contains(agreement.lender) || !keepers.contains(agreement.borrower)) {
    return Fault("PARTY_MISSING", "lender and borrower must both be parties; add who is missing");
  }
  if (agreement.lender == agreement.borrower) {
    return Fault("LENDER_IS_BORROWER", "lender and borrower are one keeper; nothing is lent");
  }
  return absl::OkStatus();
}

absl::Status CheckRoles(const std::vector<Party>& parties) {
  BP_RETURN_IF_ERROR(CheckPartyCount(parties));
  std::set<PartyRole> roles;
  for (const Party& party : parties) {
    if (party.role == PartyRole::kUnspecified) {
      return Fault("ROLE_MISSING", "a party of the form has no role; say which");
    }
    if (!roles.insert(party.role).second) {
      return Fault("ROLE_TWICE", "two parties of the form have one role; a form has each once");
    }
  }
  return absl::OkStatus();
}

absl::Status CheckClutches(const Agreement& agreement) {
  if (!agreement.clutches.empty() && agreement.replaces == Hash{}) {
    return FormFault("it names clutches that were laid before, and is no amendment");
  }
  if (agreement.clutches.size() > kAmendedClutchesMax) {
    return Fault("TOO_MANY_CLUTCHES", fmt::format("it names {} clutches; at most {} are allowed",
                                                  agreement.clutches.size(), kAmendedClutchesMax));
  }
  const std::set<ClutchId> distinct(agreement.clutches.begin(), agreement.clutches.end());
  if (distinct.size() == agreement.clutches.size()) return absl::OkStatus();
  return Fault("CLUTCH_TWICE", "it names a clutch twice; name each once");
}

}  // namespace

absl::StatusOr<Agreement> ParseAgreement(std::string_view bytes) {
  v1::Agreement message;
  BP_RETURN_IF_ERROR(Read(bytes, message));
  BP_ASSIGN_OR_RETURN(Agreement agreement, Take(message));
  BP_RETURN_IF_ERROR(CheckParties(agreement));
  BP_RETURN_IF_ERROR(internal::CheckClauses(agreement.terms));
  if (agreement.return_day) {
    BP_RETURN_IF_ERROR(internal::CheckDay("day of return", *agreement.return_day));
  }
  BP_RETURN_IF_ERROR(CheckClutches(agreement));
  return agreement;
}

std::string BuildAgreement(const Agreement& agreement) {
  using internal::FieldOf;
  v1::Agreement to;
  to.set_loan_id(FieldOf(agreement.loan));
  to.set_cooperative_id(FieldOf(agreement.cooperative));
  to.set_animal_id(FieldOf(agreement.animal));
  to.set_lender_id(FieldOf(agreement.lender));
  to.set_borrower_id(FieldOf(agreement.borrower));
  if (agreement.return_day) to.set_return_day(agreement.return_day->number);
  internal::Build(agreement.terms, *to.mutable_terms());
  if (agreement.replaces != Hash{}) to.set_replaces_digest(FieldOf(agreement.replaces));
  for (const ClutchId& clutch : agreement.clutches) to.add_clutch_ids(FieldOf(clutch));
  return to.SerializeAsString();
}

absl::StatusOr<Terms> ParseFormTerms(std::string_view bytes) {
  v1::Terms message;
  BP_RETURN_IF_ERROR(Read(bytes, message));
  BP_ASSIGN_OR_RETURN(Terms terms, internal::TakeTerms(message, Naming::kRoles));
  BP_RETURN_IF_ERROR(CheckRoles(terms.parties));
  BP_RETURN_IF_ERROR(internal::CheckClauses(terms));
  return terms;
}

absl::Status CheckTerms(const Terms& terms) {
  BP_RETURN_IF_ERROR(CheckPartyCount(terms.parties));
  return internal::CheckClauses(terms);
}

std::string BuildFormTerms(const Terms& terms) {
  v1::Terms to;
  internal::Build(terms, to);
  return to.SerializeAsString();
}

}  // namespace broodpact::facts
