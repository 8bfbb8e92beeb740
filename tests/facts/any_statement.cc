#include "tests/facts/any_statement.h"

#include <algorithm>
#include <array>
#include <numeric>
#include <string>
#include <utility>
#include <vector>

#include "client/base/check.h"

namespace broodpact::facts {
namespace {

template <typename Enum>
Enum Any(Enum last, int first = 0) {
  return static_cast<Enum>(*rc::gen::inRange(first, static_cast<int>(last) + 1));
}

template <typename Value>
std::optional<Value> Maybe(const rc::Gen<Value>& value) {
  if (*rc::gen::arbitrary<bool>()) return std::nullopt;
  return *value;
}

void Draw(Founding& founding) {
  founding.name = *AnyName();
  founding.keeper = *AnyIdOf<KeeperId>();
  founding.keeper_name = *AnyName();
  founding.device_key = *AnyBytes<PublicKey>();
  founding.region = *rc::gen::element<std::string>("", "MX");
}

void Draw(Invitation& invitation) {
  invitation.invite_key = *AnyBytes<PublicKey>();
  invitation.role = Any(Role::kObserver, 1);
  invitation.keeper_name = *rc::gen::element<std::string>("", "tomas");
}

void Draw(Joining& joining) {
  joining.invite_key = *AnyBytes<PublicKey>();
  joining.keeper = *AnyIdOf<KeeperId>();
  joining.keeper_name = *AnyName();
  joining.device_key = *AnyBytes<PublicKey>();
  joining.invite_signature = *AnyBytes<Signature>();
  joining.region = *rc::gen::element<std::string>("", "DE");
}

void Draw(GroupEntry& group) {
  group.group = *AnyIdOf<GroupId>();
  group.name = *AnyName();
  group.taxon = *rc::gen::element<std::string>("Brachypelma hamorii", "B. cf. hamorii/smithi");
  group.locality = *AnyText();
  group.line = *AnyText();
}

void Draw(AnimalEntry& animal) {
  animal.animal = *AnyIdOf<AnimalId>();
  animal.group = *AnyIdOf<GroupId>();
  animal.name = *AnyName();
  animal.sex = Any(Sex::kMale);
  animal.sex_method = Any(SexMethod::kAdultForm);
  animal.hatching = Maybe(AnySpan());
  animal.sire = *AnyIdOrNone<AnimalId>();
  animal.dam = *AnyIdOrNone<AnimalId>();
  animal.maturity = Maybe(AnySpan());
}

void Draw(Moult& moult) {
  moult.animal = *AnyIdOf<AnimalId>();
  moult.day = *AnySpan();
  moult.moult_count = *rc::gen::arbitrary<std::uint32_t>();
}

void Draw(Maturity& maturity) {
  maturity.animal = *AnyIdOf<AnimalId>();
  maturity.day = *AnySpan();
}

void Draw(SexClaim& claim) {
  claim.animal = *AnyIdOf<AnimalId>();
  claim.sex = Any(Sex::kMale);
  claim.method = Any(SexMethod::kAdultForm);
  claim.day = *AnySpan();
}

void Draw(Death& death) {
  death.animal = *AnyIdOf<AnimalId>();
  death.day = *AnySpan();
  death.cause = *AnyText();
}

void Draw(Gift& gift) {
  gift.animal = *AnyIdOf<AnimalId>();
  gift.receiver = *AnyIdOf<KeeperId>();
  gift.owner_token = *AnyIdOf<Token>();
  gift.holder_token = *AnyIdOrNone<Token>();
}

void Draw(LoanProposal& proposal) {
  proposal.parsed = *AnyAgreement();
  proposal.agreement = BuildAgreement(proposal.parsed);
  proposal.agreement_digest = Sha256(proposal.agreement);
  proposal.name = *rc::gen::element<std::string>("", "spring loan");
}

void Draw(LoanSignature& signature) {
  signature.loan = *AnyIdOf<LoanId>();
  signature.agreement_digest = *AnyBytes<Hash>();
}

void Draw(LoanRefusal& refusal) {
  refusal.loan = *AnyIdOf<LoanId>();
  refusal.reason = *AnyText();
}

void Draw(Dispatch& dispatch) {
  dispatch.loan = *AnyIdOf<LoanId>();
  dispatch.receiver = *AnyIdOf<KeeperId>();
  dispatch.holder_token = *AnyIdOf<Token>();
  dispatch.day = *AnySpan();
}

void Draw(Receipt& receipt) {
  receipt.loan = *AnyIdOf<LoanId>();
  receipt.day = *AnySpan();
  receipt.condition = Any(ArrivalCondition::kDead);
}

void Draw(LoanClosure& closure) {
  closure.loan = *AnyIdOf<LoanId>();
  closure.day = *AnySpan();
  closure.reason = *AnyText();
}

void Draw(Pairing& pairing) {
  pairing.pairing = *AnyIdOf<PairingId>();
  pairing.male = *AnyIdOf<AnimalId>();
  pairing.female = *AnyIdOf<AnimalId>();
  pairing.day = *AnySpan();
  pairing.outcome = Any(PairingOutcome::kMaleEaten);
  pairing.loan = *AnyIdOrNone<LoanId>();
}

void Draw(SacLaying& laying) {
  laying.clutch = *AnyIdOf<ClutchId>();
  laying.female = *AnyIdOf<AnimalId>();
  laying.day = *AnySpan();
  laying.name = *rc::gen::element<std::string>("", "C12");
  laying.loan = *AnyIdOrNone<LoanId>();
}

void Draw(SacPulling& pulling) {
  pulling.clutch = *AnyIdOf<ClutchId>();
  pulling.day = *AnySpan();
}

void Draw(SacLoss& loss) {
  loss.clutch = *AnyIdOf<ClutchId>();
  loss.day = *AnySpan();
  loss.cause = *AnyText();
}

void Draw(Count& count) {
  count.clutch = *AnyIdOf<ClutchId>();
  count.day = *AnySpan();
  count.slings_living = *AnySlings();
  count.slings_dead = *AnySlings();
  count.moult_count = *rc::gen::inRange<std::uint32_t>(0, 4);
  count.count_token = *AnyIdOrNone<Token>();
}

void Draw(SplitRecord& split) {
  split.clutch = *AnyIdOf<ClutchId>();
  split.count_token = *AnyIdOf<Token>();
  split.shares.resize(*rc::gen::element<std::size_t>(1, 2, 3, kPartiesMax));
  for (SplitShare& share : split.shares) {
    share.keeper = *AnyIdOf<KeeperId>();
    share.slings = *AnySlings();
    if (share.slings > 0) share.lot = *AnyIdOf<LotId>();
  }
}

void Draw(LotDispatch& dispatch) {
  dispatch.lot = *AnyIdOf<LotId>();
  dispatch.parcel = *AnyIdOf<LotId>();
  dispatch.receiver = *AnyIdOf<KeeperId>();
  dispatch.slings = *AnySlings(1);
  dispatch.day = *AnySpan();
}

void Draw(LotReceipt& receipt) {
  receipt.parcel = *AnyIdOf<LotId>();
  receipt.slings_living = *AnySlings();
  receipt.slings_dead = *AnySlings();
  receipt.day = *AnySpan();
}

void Draw(LotLoss& loss) {
  loss.lot = *AnyIdOf<LotId>();
  loss.slings = *AnySlings(1);
  loss.day = *AnySpan();
  loss.cause = *AnyText();
}

void Draw(LotRaising& raising) {
  raising.lot = *AnyIdOf<LotId>();
  raising.animal = *AnyIdOf<AnimalId>();
  raising.name = *AnyName();
  raising.sex = Any(Sex::kMale);
  raising.day = *AnySpan();
}

void Draw(PlanVeto& veto) {
  veto.animal = *AnyIdOrNone<AnimalId>();
  veto.other_animal = *AnyIdOrNone<AnimalId>();
  if (veto.other_animal.empty()) veto.other_keeper = *AnyIdOf<KeeperId>();
  veto.stance = Any(VetoStance::kLifted, 1);
}

void Draw(WantEntry& want) {
  want.want = *AnyIdOf<WantId>();
  want.group = *AnyIdOf<GroupId>();
  want.kind = Any(WantKind::kFemale, 1);
  want.count = *AnySlings();
  if (const auto until = Maybe(AnySpan())) want.until = until->earliest;
  want.note = *AnyText();
}

void Draw(WantEnd& end) {
  end.want = *AnyIdOf<WantId>();
}

template <typename Kind>
Statement Drawn() {
  Kind kind;
  Draw(kind);
  return kind;
}

// One function a kind, in the order of Statement, without Unknown.
template <std::size_t... kIndex>
auto Drawers(std::index_sequence<kIndex...> /*kinds*/) {
  return std::array{&Drawn<std::variant_alternative_t<kIndex + 1, Statement>>...};
}

constexpr std::size_t kKinds = std::variant_size_v<Statement> - 1;

PriorClaim AnyClaim(std::uint32_t parties) {
  PriorClaim claim;
  claim.party = *rc::gen::inRange<std::uint32_t>(0, parties);
  claim.kind = Any(ClaimKind::kBasisPoints);
  claim.amount = claim.kind == ClaimKind::kSlings
                     ? *AnySlings(1)
                     : *rc::gen::element<std::uint32_t>(1, 2500, kBasisPointsMax);
  claim.slings_counted_min = *AnySlings();
  claim.slings_max = *AnySlings();
  return claim;
}

Terms AnyTerms() {
  Terms terms;
  const auto parties = *rc::gen::element<std::uint32_t>(2, 3, kPartiesMax);
  for (std::uint32_t i = 0; i < parties; ++i) {
    Party party = {.role = Any(PartyRole::kEarlierLender)};
    party.keeper.bytes.back() = static_cast<std::uint8_t>(i + 1);
    terms.parties.push_back(party);
  }
  if (*rc::gen::arbitrary<bool>()) {
    terms.small_clutch = {.below = *AnySlings(1),
                          .party = *rc::gen::inRange<std::uint32_t>(0, parties)};
  }
  terms.prior_claims.resize(*rc::gen::element<std::size_t>(0, 1, 2, kClaimsMax));
  for (PriorClaim& claim : terms.prior_claims) claim = AnyClaim(parties);
  const auto shares = *rc::gen::inRange<std::uint32_t>(1, parties + 1);
  for (std::uint32_t i = 0; i < shares; ++i) {
    terms.shares.push_back(
        {.party = i, .weight = *rc::gen::element<std::uint32_t>(1, 2, 50, kWeightMax)});
  }
  terms.counting_stage = *rc::gen::inRange<std::uint32_t>(0, 4);
  terms.loss_bearer = Any(LossBearer::kShared);
  terms.sacs_covered = *rc::gen::inRange<std::uint32_t>(0, 3);
  terms.male_risk = Any(MaleRisk::kBorrower);
  terms.carriage_payer = Any(CarriagePayer::kBorrower);
  terms.remarks = *AnyText();
  return terms;
}

}  // namespace

rc::Gen<DaySpan> AnySpan() {
  return rc::gen::exec([] {
    const Day one = *AnyDay();
    const Day other = *AnyDay();
    return DaySpan{.earliest = std::min(one, other),
                   .latest = std::max(one, other),
                   .certainty = Any(Certainty::kBoth)};
  });
}

rc::Gen<Agreement> AnyAgreement() {
  return rc::gen::exec([] {
    Agreement agreement;
    agreement.loan = *AnyIdOf<LoanId>();
    agreement.cooperative = *AnyBytes<Hash>();
    agreement.animal = *AnyIdOf<AnimalId>();
    agreement.return_day = Maybe(AnyDay());
    agreement.terms = AnyTerms();
    agreement.lender = agreement.terms.parties[0].keeper;
    agreement.borrower = agreement.terms.parties[1].keeper;
    return agreement;
  });
}

rc::Gen<Statement> AnyStatementOfKind(std::size_t index) {
  BP_CHECK(index >= 1 && index <= kKinds);
  const auto drawer = Drawers(std::make_index_sequence<kKinds>())[index - 1];
  return rc::gen::exec([drawer] { return drawer(); });
}

rc::Gen<Statement> AnyStatement() {
  return rc::gen::mapcat(rc::gen::inRange<std::size_t>(1, kKinds + 1),
                         [](std::size_t index) { return AnyStatementOfKind(index); });
}

}  // namespace broodpact::facts
