#include "client/registry/internal/basis.h"

#include <algorithm>
#include <utility>
#include <vector>

#include "fmt/core.h"

#include "client/registry/female_dues.h"
#include "client/registry/interval.h"
#include "client/registry/version.h"
#include "client/shares/ratio.h"

namespace broodpact::registry {
namespace {

// The terms of a version of a loan that is or was in force; nothing if they cannot be read, which
// one that was proposed never is.
std::optional<facts::Terms> TermsOf(const Loan& loan, const Hash& digest) {
  const AgreedVersion version = VersionOf(loan, digest).value_or(AgreedVersion{});
  absl::StatusOr<facts::Agreement> agreement = facts::ParseAgreement(version.agreement);
  if (!agreement.ok()) return std::nullopt;
  return std::move(agreement->terms);
}

Finding Unreadable(const Loan& loan) {
  return Refused("AGREEMENT_UNREADABLE",
                 fmt::format("the agreement of {} cannot be read", NameOf(loan)));
}

Finding CheckTermsFemale(Case& c, const AnimalId& id) {
  const Animal* female = c.state.Find<Animal>(id);
  if (female == nullptr) return UnknownSubject("animal", id.bytes);
  if (female->sex != facts::Sex::kMale) return std::nullopt;
  return Refused("SEX_CONTRADICTS",
                 fmt::format("{} is known to be male, and has no sacs to cover", NameOf(*female)));
}

bool SharesByMale(const facts::Terms& terms, std::uint32_t sac_number) {
  return std::ranges::any_of(shares::SharesOf(terms, sac_number), [&](const auto& share) {
    return terms.parties[share.party].role == facts::PartyRole::kMaleOwner;
  });
}

std::vector<shares::SireOwner> SireOwners(Case& c, const Clutch& clutch) {
  const Animal& female = Known<Animal>(c, clutch.female);
  std::vector<Pairing> pairings;
  pairings.reserve(female.pairings.size());
  for (const PairingId& id : female.pairings) pairings.push_back(Known<Pairing>(c, id));
  return SireOwnersOf(female, clutch.laying, pairings);
}

// Where the sacs of its mother are counted under its loan; nullptr if none is.
SacTally* TallyOf(Case& c, const Clutch& clutch) {
  Loan& loan = c.state.Edit<Loan>(clutch.loan);
  const auto tally = std::ranges::find(loan.sacs, clutch.female, &SacTally::female);
  return tally == loan.sacs.end() ? nullptr : &*tally;
}

}  // namespace

Finding CheckTermsNames(Case& c, const facts::Terms& terms) {
  for (const KeeperId& keeper : {terms.counting.counter, terms.counting.witness, terms.arbiter}) {
    if (keeper.empty() || IsKeeper(c, keeper)) continue;
    return Refused("UNKNOWN_PARTY",
                   fmt::format("{} is no keeper of this cooperative", NameOf(c, keeper)));
  }
  for (const AnimalId& female : terms.coverage.females) {
    if (Finding f = CheckTermsFemale(c, female)) return f;
  }
  return std::nullopt;
}

std::uint32_t NextSacNumber(const Loan& loan, const AnimalId& female) {
  const auto tally = std::ranges::find(loan.sacs, female, &SacTally::female);
  return tally == loan.sacs.end() ? 1 : tally->sacs + 1;
}

Finding CheckCovered(Case& c, const Loan& loan, const CoveredSac& sac) {
  const std::optional<facts::Terms> terms =
      TermsOf(loan, VersionOfSac(Known<Animal>(c, sac.female), loan, sac.laying));
  if (!terms) return Unreadable(loan);
  const facts::Coverage& coverage = terms->coverage;
  const auto not_covered = [&](std::string why) {
    return Refused("NOT_COVERED", fmt::format("{} does not cover this sac of {}: {}; enter it "
                                              "without that loan (--no-loan)",
                                              NameOf(loan), NameOf(c, sac.female), why));
  };
  const bool names_her = coverage.females.empty() ||
                         std::ranges::find(coverage.females, sac.female) != coverage.females.end();
  if (!names_her) return not_covered("it is about other females");
  if (coverage.until_day && sac.laying.earliest > *coverage.until_day) {
    return not_covered(fmt::format("it ended on {}", ToText(*coverage.until_day)));
  }
  if (coverage.sacs != 0 && sac.number > coverage.sacs) {
    return not_covered(fmt::format(
        "it is about {} of a female, and this is number {}",
        coverage.sacs == 1 ? "the first sac" : fmt::format("{} sacs", coverage.sacs), sac.number));
  }
  return std::nullopt;
}

Finding TallySac(Case& c, const LoanId& id, const AnimalId& female) {
  Loan& loan = c.state.Edit<Loan>(id);
  const auto tally = std::ranges::find(loan.sacs, female, &SacTally::female);
  if (tally != loan.sacs.end()) {
    ++tally->sacs;
    return std::nullopt;
  }
  if (Finding f = CheckRoom(loan.sacs.size(), "females")) return f;
  loan.sacs.push_back({.female = female, .sacs = 1});
  return std::nullopt;
}

void GiveNumberBack(Case& c, const ClutchId& id) {
  const Clutch& clutch = Known<Clutch>(c, id);
  if (clutch.loan.empty()) return;
  const std::optional<facts::Terms> terms = TermsOf(Known<Loan>(c, clutch.loan), clutch.agreement);
  if (!terms || terms->failure.infertile_sac != facts::FailureRule::kNextSac) return;
  SacTally* const tally = TallyOf(c, clutch);
  if (tally == nullptr || tally->sacs == 0) return;
  --tally->sacs;
  c.state.Edit<Clutch>(id).number_given_back = true;
}

void TakeNumberAgain(Case& c, const ClutchId& id) {
  if (!Known<Clutch>(c, id).number_given_back) return;
  Clutch& clutch = c.state.Edit<Clutch>(id);
  clutch.number_given_back = false;
  if (SacTally* const tally = TallyOf(c, clutch)) ++tally->sacs;
}

Finding SplitBasisOf(Case& c, const Clutch& clutch, SplitBasis& basis) {
  const Loan* loan = c.state.Find<Loan>(clutch.loan);
  if (loan == nullptr) return UnknownSubject("loan", clutch.loan.bytes);
  std::optional<facts::Terms> terms = TermsOf(*loan, clutch.agreement);
  if (!terms) return Unreadable(*loan);
  basis.terms = *std::move(terms);
  basis.carry = shares::CarryIdOf(basis.terms, clutch.occasion.sac_number);
  if (clutch.shared_out) {
    basis.occasion = clutch.occasion;
    return std::nullopt;
  }
  basis.occasion.sac_number = clutch.occasion.sac_number;
  if (SharesByMale(basis.terms, basis.occasion.sac_number)) {
    basis.occasion.sire_owners = SireOwners(c, clutch);
  }
  const Carry* carry = basis.carry ? c.state.Find<Carry>(*basis.carry) : nullptr;
  if (carry != nullptr) basis.occasion.carried_slings = carry->slings;
  return std::nullopt;
}

Finding CheckCarried(Case& c, const facts::SplitRecord& s, const Clutch& clutch,
                     const SplitBasis& basis) {
  if (s.carried_slings == basis.occasion.carried_slings) return std::nullopt;
  if (clutch.shared_out) {
    return Refused("SPLIT_DIFFERS",
                   fmt::format("the split carries {} slings on, and the first of {} carried {}",
                               s.carried_slings, NameOf(clutch), basis.occasion.carried_slings));
  }
  const Carry* carry = basis.carry ? c.state.Find<Carry>(*basis.carry) : nullptr;
  if (carry == nullptr) {
    return Refused("SPLIT_DIFFERS",
                   fmt::format("the split carries {} slings on, and nothing was shared before",
                               s.carried_slings));
  }
  return Superseded(
      "CARRY_MOVED",
      fmt::format("since then {} was shared out between the same parties, and its remainders carry "
                  "over: {} slings so far, not {}; split again",
                  NameOf(Known<Clutch>(c, carry->clutch)), carry->slings, s.carried_slings),
      carry->entry.arrival);
}

Finding CheckWitnessed(Case& c, const Clutch& clutch, const CountRecord& count,
                       const facts::Terms& terms) {
  const KeeperId& witness = terms.counting.witness;
  if (witness.empty() || count.witness == witness) return std::nullopt;
  return Refused("WITNESS_MISSING",
                 fmt::format("{} has not confirmed the count of {}, as agreed; ask for it first",
                             NameOf(c, witness), NameOf(clutch)));
}

void FlagCounter(Case& c, const Clutch& clutch) {
  if (clutch.loan.empty()) return;
  const std::optional<facts::Terms> terms = TermsOf(Known<Loan>(c, clutch.loan), clutch.agreement);
  if (!terms || terms->counting.counter.empty() || ActsFor(c, terms->counting.counter)) return;
  Flag(c, "FLAG_COUNTER_OTHER",
       fmt::format("{} was to count {}, as agreed", NameOf(c, terms->counting.counter),
                   NameOf(clutch)));
}

void KeepCarry(Case& c, const ClutchId& clutch, const SplitBasis& basis, std::uint32_t slings) {
  if (!basis.carry || slings == 0) return;
  Carry& carry = c.state.Find<Carry>(*basis.carry) != nullptr ? c.state.Edit<Carry>(*basis.carry)
                                                              : c.state.Create<Carry>(*basis.carry);
  carry.slings = shares::CarriedAfter(basis.terms, basis.occasion.sac_number, carry.slings, slings);
  ++carry.splits;
  carry.clutch = clutch;
  carry.entry = c.entry;
}

}  // namespace broodpact::registry
