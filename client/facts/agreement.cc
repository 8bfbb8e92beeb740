#include <algorithm>
#include <set>

#include <fmt/format.h>

#include "broodpact/v1/terms.pb.h"
#include "client/base/status.h"
#include "client/base/text.h"
#include "client/facts/internal/build.h"
#include "client/facts/internal/message.h"
#include "client/facts/terms.h"

namespace broodpact::facts {
namespace {

absl::Status Fault(std::string_view reason, std::string_view wrong) {
  return Fail(absl::StatusCode::kInvalidArgument, reason, fmt::format("agreement: {}", wrong));
}

absl::Status FormFault(std::string_view wrong) {
  return Fault("AGREEMENT_FORM", wrong);
}

template <typename Array>
absl::Status TakeFixed(std::string_view what, const std::string& bytes, Array& array) {
  if (bytes.size() == array.size()) {
    std::copy(bytes.begin(), bytes.end(), array.begin());
    if (array != Array{}) return absl::OkStatus();
  }
  return FormFault(fmt::format("the {} is missing or of a wrong length", what));
}

template <typename Enum>
absl::Status TakeEnum(std::string_view what, int value, Enum last, Enum& out) {
  if (value < 0 || value > static_cast<int>(last)) {
    return FormFault(fmt::format("the {} has a value that this version does not know", what));
  }
  out = static_cast<Enum>(value);
  return absl::OkStatus();
}

bool HasUnknown(const google::protobuf::Message& message) {
  return !message.GetReflection()->GetUnknownFields(message).empty();
}

template <typename List>
bool AnyHasUnknown(const List& messages) {
  return std::any_of(messages.begin(), messages.end(),
                     [](const auto& message) { return HasUnknown(message); });
}

// Whether a field is not known to this version, at any depth.
bool HasUnknownField(const v1::Agreement& from) {
  const v1::Terms& terms = from.terms();
  return HasUnknown(from) || HasUnknown(terms) || AnyHasUnknown(terms.parties()) ||
         AnyHasUnknown(terms.prior_claims()) || AnyHasUnknown(terms.shares());
}

absl::StatusOr<Party> TakeParty(const v1::Party& from) {
  Party party;
  BP_RETURN_IF_ERROR(TakeFixed("id of a party", from.keeper_id(), party.keeper.bytes));
  BP_RETURN_IF_ERROR(
      TakeEnum("role of a party", from.role(), PartyRole::kEarlierLender, party.role));
  return party;
}

PriorClaim TakeClaim(const v1::PriorClaim& from) {
  const bool by_part = from.has_basis_points();
  return {.party = from.party(),
          .kind = by_part ? ClaimKind::kBasisPoints : ClaimKind::kSlings,
          .amount = by_part ? from.basis_points() : from.slings(),
          .slings_counted_min = from.slings_counted_min(),
          .slings_max = from.slings_max()};
}

// The terms in their form; what the values mean together is checked afterwards.
absl::StatusOr<Terms> TakeTerms(const v1::Terms& from) {
  Terms terms;
  for (const v1::Party& party : from.parties()) {
    BP_ASSIGN_OR_RETURN(terms.parties.emplace_back(), TakeParty(party));
  }
  for (const v1::PriorClaim& claim : from.prior_claims()) {
    terms.prior_claims.push_back(TakeClaim(claim));
  }
  for (const v1::RatioShare& share : from.shares()) {
    terms.shares.push_back({.party = share.party(), .weight = share.weight()});
  }
  if (from.small_clutch_below() > 0) {
    terms.small_clutch = {.below = from.small_clutch_below(), .party = from.small_clutch_party()};
  } else if (from.small_clutch_party() > 0) {
    return FormFault("it names a party for a small clutch, and not how small");
  }
  // The one method there is so far has two names.
  if (from.method() > v1::APPORTIONMENT_METHOD_LARGEST_REMAINDER || from.method() < 0) {
    return FormFault("the method of the shares is one that this version does not know");
  }
  terms.counting_stage = from.counting_stage();
  BP_RETURN_IF_ERROR(
      TakeEnum("bearer of losses", from.loss_bearer(), LossBearer::kShared, terms.loss_bearer));
  terms.sacs_covered = from.sacs_covered();
  BP_RETURN_IF_ERROR(
      TakeEnum("risk of the male", from.male_risk(), MaleRisk::kBorrower, terms.male_risk));
  BP_RETURN_IF_ERROR(TakeEnum("payer of carriage", from.carriage_payer(), CarriagePayer::kBorrower,
                              terms.carriage_payer));
  terms.remarks = from.remarks();
  return terms;
}

absl::StatusOr<Agreement> Take(const v1::Agreement& from) {
  if (HasUnknownField(from)) {
    return FormFault("it has a clause that this version does not know; install a newer one");
  }
  Agreement agreement;
  BP_RETURN_IF_ERROR(TakeFixed("id of the loan", from.loan_id(), agreement.loan.bytes));
  BP_RETURN_IF_ERROR(
      TakeFixed("id of the cooperative", from.cooperative_id(), agreement.cooperative));
  BP_RETURN_IF_ERROR(TakeFixed("id of the animal", from.animal_id(), agreement.animal.bytes));
  BP_RETURN_IF_ERROR(TakeFixed("id of the lender", from.lender_id(), agreement.lender.bytes));
  BP_RETURN_IF_ERROR(TakeFixed("id of the borrower", from.borrower_id(), agreement.borrower.bytes));
  if (from.return_day() != 0) agreement.return_day = Day{from.return_day()};
  BP_ASSIGN_OR_RETURN(agreement.terms, TakeTerms(from.terms()));
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

absl::Status CheckParties(const Agreement& agreement) {
  const std::vector<Party>& parties = agreement.terms.parties;
  if (parties.empty()) return Fault("NO_PARTIES", "it names no parties; name lender and borrower");
  if (parties.size() > kPartiesMax) {
    return Fault("TOO_MANY_PARTIES", fmt::format("it has {} parties; at most {} are allowed",
                                                 parties.size(), kPartiesMax));
  }
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

absl::Status CheckIndexes(const Terms& terms) {
  const auto known = [&terms](const auto& clause) { return clause.party < terms.parties.size(); };
  if ((!terms.small_clutch || known(*terms.small_clutch)) &&
      std::all_of(terms.prior_claims.begin(), terms.prior_claims.end(), known) &&
      std::all_of(terms.shares.begin(), terms.shares.end(), known)) {
    return absl::OkStatus();
  }
  return Fault("UNKNOWN_PARTY", "a clause names a party that is not in the list");
}

bool IsWithinBounds(const PriorClaim& claim) {
  const std::uint32_t amount_max = claim.kind == ClaimKind::kSlings ? kSlingsMax : kBasisPointsMax;
  return claim.amount >= 1 && claim.amount <= amount_max &&
         claim.slings_counted_min <= kSlingsMax && claim.slings_max <= kSlingsMax;
}

absl::Status CheckClaims(const Terms& terms) {
  if (terms.prior_claims.size() > kClaimsMax) {
    return Fault("CLAIM_OUT_OF_RANGE", fmt::format("it has {} prior claims; at most {} are allowed",
                                                   terms.prior_claims.size(), kClaimsMax));
  }
  if (!std::all_of(terms.prior_claims.begin(), terms.prior_claims.end(), IsWithinBounds)) {
    return Fault("CLAIM_OUT_OF_RANGE",
                 fmt::format("a prior claim must be for 1 to {} slings, or for 0.01 to 100 per "
                             "cent, with limits of at most {} slings",
                             kSlingsMax, kSlingsMax));
  }
  if (terms.small_clutch && terms.small_clutch->below > kSlingsMax) {
    return Fault("CLAIM_OUT_OF_RANGE",
                 fmt::format("a small clutch must have fewer than {} slings", kSlingsMax));
  }
  return absl::OkStatus();
}

// Whether a claim takes all that is left, whatever the count.
bool TakesAll(const PriorClaim& claim) {
  return claim.kind == ClaimKind::kBasisPoints && claim.amount == kBasisPointsMax &&
         claim.slings_counted_min == 0 && claim.slings_max == 0;
}

absl::Status CheckShares(const Terms& terms) {
  if (terms.shares.empty() &&
      std::none_of(terms.prior_claims.begin(), terms.prior_claims.end(), TakesAll)) {
    return Fault("NO_SHARES", "it does not say who gets the rest of the slings; add shares");
  }
  std::set<std::uint32_t> sharing;
  for (const RatioShare& share : terms.shares) {
    if (!sharing.insert(share.party).second) {
      return Fault("SHARE_TWICE", "a party has two shares; add them up to one");
    }
  }
  for (const RatioShare& share : terms.shares) {
    if (share.weight < 1 || share.weight > kWeightMax) {
      return Fault("WEIGHT_OUT_OF_RANGE", fmt::format("a share has {} parts; it must be 1 to {}",
                                                      share.weight, kWeightMax));
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

absl::Status CheckReturnDay(const Agreement& agreement) {
  if (!agreement.return_day) return absl::OkStatus();
  if (kDayMin <= *agreement.return_day && *agreement.return_day <= kDayMax) return absl::OkStatus();
  return Fault("DATE_OUT_OF_RANGE", "the day of return is not between 1900 and 2199");
}

}  // namespace

absl::StatusOr<Agreement> ParseAgreement(std::string_view bytes) {
  if (bytes.size() > kAgreementBytesMax) {
    return FormFault(
        fmt::format("it has {} bytes; at most {} are allowed", bytes.size(), kAgreementBytesMax));
  }
  v1::Agreement message;
  if (const auto fault = internal::ReadMessage(bytes, message)) {
    if (fault->text_at.empty()) return FormFault("the bytes are no agreement");
    return Fault("TEXT_MALFORMED", fmt::format("{} is not UTF-8; enter it again", fault->text_at));
  }
  BP_ASSIGN_OR_RETURN(Agreement agreement, Take(message));
  BP_RETURN_IF_ERROR(CheckParties(agreement));
  BP_RETURN_IF_ERROR(CheckIndexes(agreement.terms));
  BP_RETURN_IF_ERROR(CheckClaims(agreement.terms));
  BP_RETURN_IF_ERROR(CheckShares(agreement.terms));
  BP_RETURN_IF_ERROR(CheckReturnDay(agreement));
  BP_RETURN_IF_ERROR(CheckClutches(agreement));
  BP_RETURN_IF_ERROR(
      Annotate(CheckText("the text of the remarks", agreement.terms.remarks, kRemarksBytesMax),
               "agreement"));
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

}  // namespace broodpact::facts
