#include "client/shares/findings.h"

#include <algorithm>
#include <array>
#include <utility>

#include <fmt/core.h>

#include "client/base/check.h"
#include "client/shares/phrase.h"
#include "client/shares/ratio.h"

namespace broodpact::shares {
namespace {

using facts::ClaimKind;
using facts::PriorClaim;
using facts::TakesAll;
using facts::Terms;
using Names = std::vector<std::string>;

// Larger than the clutches that keepers speak of, which end above 2,000 («common practice, no
// source»). Only to ask whether a number is meant; nothing is refused by it.
constexpr std::uint32_t kLargeClutch = 2'500;

constexpr std::array<std::string_view, 16> kOrdinals = {
    "first", "second", "third",    "fourth",  "fifth",      "sixth",      "seventh",   "eighth",
    "ninth", "tenth",  "eleventh", "twelfth", "thirteenth", "fourteenth", "fifteenth", "sixteenth"};
static_assert(kOrdinals.size() == facts::kClaimsMax);

// Collects remarks on one agreement.
class Reader {
 public:
  Reader(const Terms& terms, const Names& names) : terms_(terms), names_(names) {}

  void ReadClaims();
  void ReadShares();
  void ReadSmallClutch();
  void ReadPeople();
  void ReadTimes(const std::optional<Day>& return_day);
  void ReadCare();
  void ReadGaps(const std::optional<Day>& return_day);

  std::vector<Remark> Finish() && {
    std::ranges::stable_sort(remarks_, {}, &Remark::severity);
    return std::move(remarks_);
  }

 private:
  void Wrong(std::string text) { Add(Severity::kWrong, std::move(text)); }
  void LookAt(std::string text) { Add(Severity::kLookAt, std::move(text)); }
  void Note(std::string text) { Add(Severity::kNote, std::move(text)); }
  void Add(Severity severity, std::string text) {
    remarks_.push_back({.severity = severity, .text = std::move(text)});
  }

  // "The second claim (tomas)".
  std::string ClaimName(std::size_t i) const {
    return fmt::format("The {} claim ({})", kOrdinals[i], names_[terms_.prior_claims[i].party]);
  }
  void ReadClaim(std::size_t i);
  void ReadClaimConditions(std::size_t i);
  bool HasPart(std::uint32_t party) const;
  bool IsParty(const KeeperId& keeper) const {
    return std::ranges::find(terms_.parties, keeper, &facts::Party::keeper) != terms_.parties.end();
  }

  const Terms& terms_;
  const Names& names_;
  std::vector<Remark> remarks_;
};

void Reader::ReadClaim(std::size_t i) {
  const PriorClaim& claim = terms_.prior_claims[i];
  if (claim.slings_max != 0 && claim.slings_max < claim.slings_min) {
    Wrong(fmt::format("{} is for at least {} and at most {}: the cap is below the minimum.",
                      ClaimName(i), claim.slings_min, claim.slings_max));
  } else if (claim.kind == ClaimKind::kSlings && claim.slings_max != 0 &&
             claim.slings_max < claim.amount) {
    Wrong(fmt::format("{} is for {} and at most {}: the cap is below the amount.", ClaimName(i),
                      SlingsText(claim.amount), claim.slings_max));
  }
  if (claim.kind == ClaimKind::kSlings && claim.slings_min > claim.amount) {
    LookAt(fmt::format("{} is for {} and at least {}: the minimum alone says it.", ClaimName(i),
                       SlingsText(claim.amount), claim.slings_min));
  }
  ReadClaimConditions(i);
}

void Reader::ReadClaimConditions(std::size_t i) {
  const PriorClaim& claim = terms_.prior_claims[i];
  if (claim.slings_counted_min > kLargeClutch) {
    Wrong(fmt::format("{} asks for {} counted: no clutch is known to be so large.", ClaimName(i),
                      SlingsText(claim.slings_counted_min)));
  }
  const bool swallowed = terms_.small_clutch && claim.slings_counted_min != 0 &&
                         claim.slings_counted_min <= terms_.small_clutch->below;
  if (swallowed) {
    Note(fmt::format(
        "{} asks for {} counted, which is always so: a smaller clutch goes whole to "
        "{}.",
        ClaimName(i), SlingsText(claim.slings_counted_min), names_[terms_.small_clutch->party]));
  }
  if (terms_.coverage.sacs != 0 && claim.sacs_max > terms_.coverage.sacs) {
    LookAt(fmt::format(
        "{} is of {}, and {} covered.", ClaimName(i), FirstSacsText(claim.sacs_max),
        terms_.coverage.sacs == 1 ? "one is" : fmt::format("{} are", terms_.coverage.sacs)));
  }
}

void Reader::ReadClaims() {
  const std::vector<PriorClaim>& claims = terms_.prior_claims;
  std::uint64_t basis_points = 0;
  std::uint64_t slings = 0;
  for (std::size_t i = 0; i < claims.size(); ++i) {
    ReadClaim(i);
    const bool taken =
        std::any_of(claims.begin(), claims.begin() + static_cast<std::ptrdiff_t>(i), TakesAll);
    if (taken) {
      Wrong(fmt::format("{} can never be reached: one before it takes all.", ClaimName(i)));
    }
    if (claims[i].kind == ClaimKind::kBasisPoints) basis_points += claims[i].amount;
    if (claims[i].kind == ClaimKind::kSlings && claims[i].slings_counted_min == 0) {
      slings += claims[i].amount;
    }
  }
  if (basis_points > facts::kBasisPointsMax) {
    Wrong(fmt::format(
        "The claims add up to {} %: each is of what those before it left, so nobody gets his per "
        "cent of the clutch.",
        DecimalText(basis_points, 2)));
  }
  if (std::ranges::any_of(claims, TakesAll) && !terms_.shares.empty()) {
    Wrong("The shares can never be reached: a claim before them takes all.");
  }
  const std::uint32_t below = terms_.small_clutch ? terms_.small_clutch->below : 0;
  if (slings >= std::max(below, 1U) && slings > 0) {
    Note(fmt::format("Of a clutch of {} or fewer, the claims leave nothing to share.",
                     SlingsText(slings)));
  }
}

void Reader::ReadShares() {
  if (RunningMethodOf(terms_) && terms_.apportioning.method != facts::Method::kLargestRemainder) {
    Wrong(fmt::format("Remainders carry over by the {}, so {} has no effect.",
                      CarryText(terms_.apportioning.carry),
                      MethodText(terms_.apportioning.method)));
  }
  if (RunningMethodOf(terms_) && terms_.shares.size() < 2) {
    LookAt("Remainders carry over, and there are no two shares to leave any.");
  }
  for (const facts::LaterShares& later : terms_.later_shares) {
    if (terms_.coverage.sacs == 0 || later.first_sac <= terms_.coverage.sacs) continue;
    Wrong(fmt::format(
        "The shares from sac number {} on can never be reached: {} covered.", later.first_sac,
        terms_.coverage.sacs == 1 ? "one sac is"
                                  : fmt::format("{} sacs are", terms_.coverage.sacs)));
  }
  const bool says_sires = terms_.apportioning.sires != facts::SireRule::kUnspecified;
  const bool has_male_owner = std::ranges::any_of(terms_.shares, [&](const auto& share) {
    return terms_.parties[share.party].role == facts::PartyRole::kMaleOwner;
  });
  if (says_sires && !has_male_owner) {
    LookAt("There is a rule for several males, and no male's owner has a share to divide.");
  }
}

void Reader::ReadSmallClutch() {
  if (!terms_.small_clutch || terms_.small_clutch->below <= kLargeClutch) return;
  Wrong(fmt::format(
      "Every clutch goes whole to {}: none is known to have {} or more, so nothing else applies.",
      names_[terms_.small_clutch->party], SlingsText(terms_.small_clutch->below)));
}

bool Reader::HasPart(std::uint32_t party) const {
  const auto is_his = [party](const auto& clause) { return clause.party == party; };
  if (terms_.small_clutch && is_his(*terms_.small_clutch)) return true;
  if (std::ranges::any_of(terms_.prior_claims, is_his)) return true;
  if (std::ranges::any_of(terms_.shares, is_his)) return true;
  return std::ranges::any_of(terms_.later_shares, [&](const facts::LaterShares& later) {
    return std::ranges::any_of(later.shares, is_his);
  });
}

void Reader::ReadPeople() {
  for (std::uint32_t party = 0; party < terms_.parties.size(); ++party) {
    if (HasPart(party)) continue;
    LookAt(fmt::format("{} signs and gets nothing: no claim and no share is his.", names_[party]));
  }
  const facts::Counting& counting = terms_.counting;
  const KeeperId& arbiter = terms_.arbiter;
  if (!counting.witness.empty() && counting.witness == counting.counter) {
    Wrong("Who counts is his own witness.");
  }
  if (!counting.witness.empty() && !IsParty(counting.witness)) {
    LookAt("The witness is no party: he does not sign these terms, and is bound to nothing.");
  }
  if (!counting.counter.empty() && !IsParty(counting.counter)) {
    LookAt("Who counts is no party: he does not sign these terms, and is bound to nothing.");
  }
  if (!arbiter.empty() && IsParty(arbiter)) {
    LookAt("Who decides where the parties disagree is a party himself.");
  }
}

void Reader::ReadTimes(const std::optional<Day>& return_day) {
  const std::optional<Day>& until = terms_.coverage.until_day;
  if (until && return_day && *until < *return_day) {
    LookAt(fmt::format(
        "Sacs are covered until {}, and the animal is due back on {}: what is laid between is not "
        "covered.",
        ToText(*until), ToText(*return_day)));
  }
}

void Reader::ReadCare() {
  const facts::RiskClause& risk = terms_.risk;
  const auto borrower = facts::MaleRisk::kBorrower;
  const bool ever_owed = risk.bearer == borrower || risk.in_transit == borrower ||
                         risk.eaten == borrower || risk.natural == borrower;
  if (risk.yield != facts::RiskYield::kUnspecified && !ever_owed) {
    Wrong("It is said what the borrower owes for a death, and he answers for none.");
  }
  if (risk.yield == facts::RiskYield::kRemarks && terms_.remarks.empty()) {
    Wrong("What is owed for a death is left to the remarks, and there are none.");
  }
  if (terms_.dead_arrivals.replace_days != 0 && terms_.dead_arrivals.report_hours == 0) {
    LookAt("Dead arrivals are replaced, and it is not said how soon they have to be reported.");
  }
  if (terms_.failure.no_sac_days != 0 &&
      terms_.failure.no_sac == facts::FailureRule::kUnspecified) {
    LookAt("It is said when no sac is expected any more, and not what follows.");
  }
  if (terms_.failure.infertile_sac == facts::FailureRule::kNextSac && terms_.coverage.sacs == 1) {
    Note("One sac is covered; where it comes to nothing the next takes its place.");
  }
}

void Reader::ReadGaps(const std::optional<Day>& return_day) {
  Names gaps;
  if (terms_.counting.stage == 0) gaps.emplace_back("the stage at which slings are counted");
  if (!terms_.small_clutch) gaps.emplace_back("what a small clutch does");
  if (!return_day) gaps.emplace_back("when the animal is due back");
  if (terms_.loss_bearer == facts::LossBearer::kUnspecified) {
    gaps.emplace_back("who bears losses before the handover");
  }
  if (terms_.failure.no_sac == facts::FailureRule::kUnspecified) {
    gaps.emplace_back("what follows if no sac comes");
  }
  if (gaps.empty()) return;
  Note(fmt::format("Not said, so that the usual holds: {}.", ListText(gaps)));
}

}  // namespace

std::string_view SeverityText(Severity severity) {
  switch (severity) {
    case Severity::kWrong:
      return "wrong";
    case Severity::kLookAt:
      return "look at";
    case Severity::kNote:
      return "note";
  }
  return "";
}

std::vector<Remark> FindingsOf(const Terms& terms, const std::optional<Day>& return_day,
                               const Names& names) {
  BP_CHECK(names.size() == terms.parties.size());
  Reader reader(terms, names);
  reader.ReadClaims();
  reader.ReadShares();
  reader.ReadSmallClutch();
  reader.ReadPeople();
  reader.ReadTimes(return_day);
  reader.ReadCare();
  reader.ReadGaps(return_day);
  return std::move(reader).Finish();
}

}  // namespace broodpact::shares
