#include "tests/facts/any_statement.h"

#include <algorithm>
#include <array>
#include <memory>
#include <numeric>
#include <string>
#include <utility>
#include <vector>

#include "client/base/check.h"
#include "client/facts/commit.h"

namespace broodpact::facts {
namespace {

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

// A few commits of one device, each with a group entered.
void Draw(Restatement& again) {
  const CommitHeader header{.cooperative = Sha256("cooperative"),
                            .device = *AnyIdOf<DeviceId>(),
                            .incarnation = *rc::gen::element<std::uint32_t>(1, 2)};
  again.commit = BuildCommit(header, {GroupEntry{.group = *AnyIdOf<GroupId>(),
                                                 .name = *AnyName(),
                                                 .taxon = "Brachypelma hamorii"}});
  again.signature = *AnyBytes<Signature>();
  again.told = std::make_shared<const Commit>(*ParseCommit(again.commit));
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
  gift.due_loans.resize(*rc::gen::element<std::size_t>(0, 1, kDueLoansMax));
  for (LoanId& loan : gift.due_loans) loan = *AnyIdOf<LoanId>();
}

void Draw(NameUse& use) {
  use.group = *AnyIdOf<GroupId>();
  use.name = *rc::gen::element<std::string>("Brachypelma hamorii", "B. smithi auct.");
  use.status = Any(NameStatus::kTradeName, 1);
  use.since = Maybe(AnySpan());
  use.source = *AnyText();
}

void Draw(GroupMove& move) {
  move.group = *AnyIdOf<GroupId>();
  move.animals.resize(*rc::gen::element<std::size_t>(1, 2, 60));
  for (AnimalId& animal : move.animals) animal = *AnyIdOf<AnimalId>();
  move.reason = *AnyText();
}

void Draw(GroupClosure& closure) {
  closure.group = *AnyIdOf<GroupId>();
  closure.successor = *AnyIdOf<GroupId>();
  closure.reason = *AnyText();
}

void Draw(FounderKinship& kinship) {
  kinship.group = *AnyIdOf<GroupId>();
  kinship.denominator = *rc::gen::element<std::uint32_t>(1, 2, 8, 3, kKinshipDenominatorMax);
  kinship.numerator = *rc::gen::inRange<std::uint32_t>(0, kinship.denominator / 2 + 1);
  kinship.reason = *AnyText();
}

void Draw(LoanProposal& proposal) {
  proposal.parsed = *AnyAgreement();
  proposal.agreement = BuildAgreement(proposal.parsed);
  proposal.agreement_digest = Sha256(proposal.agreement);
  proposal.name = *rc::gen::element<std::string>("", "spring loan");
  proposal.open_until = *rc::gen::element<std::optional<Day>>(std::nullopt, Day{20'600});
}

void Draw(LoanAmendment& amendment) {
  amendment.parsed = *AnyAgreement();
  amendment.parsed.replaces = *AnyBytes<Hash>();
  amendment.parsed.clutches.resize(*rc::gen::inRange<std::size_t>(0, 3));
  for (std::size_t i = 0; i < amendment.parsed.clutches.size(); ++i) {
    amendment.parsed.clutches[i].bytes[0] = static_cast<std::uint8_t>(i + 1);
  }
  amendment.agreement = BuildAgreement(amendment.parsed);
  amendment.agreement_digest = Sha256(amendment.agreement);
  amendment.open_until = *rc::gen::element<std::optional<Day>>(std::nullopt, Day{20'600});
}

void Draw(TermsForm& form) {
  form.form = *AnyIdOf<FormId>();
  form.name = *AnyName();
  form.parsed = *AnyFormTerms();
  form.terms = BuildFormTerms(form.parsed);
  form.form_token = *AnyIdOrNone<Token>();
}

void Draw(CountWitness& witness) {
  witness.clutch = *AnyIdOf<ClutchId>();
  witness.count_token = *AnyIdOf<Token>();
  witness.day = *AnySpan();
}

void Draw(LoanSignature& signature) {
  signature.loan = *AnyIdOf<LoanId>();
  signature.agreement_digest = *AnyBytes<Hash>();
}

void Draw(LoanRefusal& refusal) {
  refusal.loan = *AnyIdOf<LoanId>();
  refusal.reason = *AnyText();
  if (*rc::gen::arbitrary<bool>()) refusal.agreement_digest = *AnyBytes<Hash>();
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
  pairing.hybrid_intended = *rc::gen::arbitrary<bool>();
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

SplitShare AnyShare() {
  SplitShare share;
  share.keeper = *AnyIdOf<KeeperId>();
  share.slings = *AnySlings();
  if (share.slings > 0) share.lot = *AnyIdOf<LotId>();
  return share;
}

void Draw(SplitRecord& split) {
  split.clutch = *AnyIdOf<ClutchId>();
  split.count_token = *AnyIdOf<Token>();
  split.carried_slings = *rc::gen::arbitrary<std::uint32_t>();
  split.shares.resize(*rc::gen::element<std::size_t>(1, 2, 3, kPartiesMax));
  for (SplitShare& share : split.shares) share = AnyShare();
}

void Draw(LotDispatch& dispatch) {
  dispatch.lot = *AnyIdOf<LotId>();
  dispatch.parcel = *AnyIdOf<LotId>();
  dispatch.receiver = *AnyIdOf<KeeperId>();
  dispatch.slings = *AnySlings(1);
  dispatch.day = *AnySpan();
  dispatch.replaced = *AnyIdOrNone<LotId>();
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

void Draw(Objection& objection) {
  objection.clutch = *AnyIdOf<ClutchId>();
  objection.count_token = *AnyIdOrNone<Token>();
  objection.reason = *AnyName();
  objection.day = *AnySpan();
}

void Draw(ClashWithdrawal& withdrawal) {
  withdrawal.clash = *AnyIdOf<ClashId>();
  withdrawal.reason = *AnyText();
}

void Draw(ClashSettlement& settlement) {
  settlement.clash = *AnyIdOf<ClashId>();
  settlement.words = *AnyName();
  settlement.count_token = *AnyIdOrNone<Token>();
  settlement.shares.resize(*rc::gen::element<std::size_t>(0, 2, kPartiesMax));
  for (SplitShare& share : settlement.shares) share = AnyShare();
  settlement.moves.resize(*rc::gen::element<std::size_t>(0, 1, 64));
  for (LotMove& move : settlement.moves) {
    move.lot = *AnyIdOf<LotId>();
    move.keeper = *AnyIdOf<KeeperId>();
    move.slings = *AnySlings(1);
    move.new_lot = *AnyIdOf<LotId>();
  }
}

void Draw(ClashSignature& signature) {
  signature.clash = *AnyIdOf<ClashId>();
  signature.settlement = *AnyIdOf<Token>();
}

void Draw(LateHatching& hatching) {
  hatching.clutch = *AnyIdOf<ClutchId>();
  hatching.slings = *AnySlings(1);
  hatching.day = *AnySpan();
}

void Draw(ShareWaiver& waiver) {
  waiver.clutch = *AnyIdOf<ClutchId>();
  waiver.party = *AnyIdOf<KeeperId>();
  waiver.receiver = *AnyIdOrNone<KeeperId>();
  waiver.reason = *AnyText();
}

void Draw(LotReturn& back) {
  back.lot = *AnyIdOf<LotId>();
  back.slings = *AnySlings(1);
  back.day = *AnySpan();
  back.reason = *AnyText();
}

void Draw(LotPassing& passing) {
  passing.lot = *AnyIdOf<LotId>();
  passing.new_lot = *AnyIdOf<LotId>();
  passing.receiver = *AnyIdOf<KeeperId>();
  passing.slings = *AnySlings(1);
  passing.day = *AnySpan();
}

void Draw(LotDivision& division) {
  division.lot = *AnyIdOf<LotId>();
  division.new_lot = *AnyIdOf<LotId>();
  division.slings = *AnySlings(1);
  division.day = *AnySpan();
}

void Draw(LotMerging& merging) {
  merging.lot = *AnyIdOf<LotId>();
  merging.merged.resize(*rc::gen::element<std::size_t>(1, 2, 16));
  for (LotId& lot : merging.merged) lot = *AnyIdOf<LotId>();
  merging.day = *AnySpan();
}

void Draw(Succession& succession) {
  succession.keeper = *AnyIdOf<KeeperId>();
  succession.successor = *AnyIdOrNone<KeeperId>();
  succession.reason = *AnyText();
  succession.day = *AnySpan();
}

void Draw(SacGift& gift) {
  gift.clutch = *AnyIdOf<ClutchId>();
  gift.receiver = *AnyIdOf<KeeperId>();
  gift.due_loan = *AnyIdOrNone<LoanId>();
  gift.day = *AnySpan();
}

void Draw(DueAcceptance& acceptance) {
  if (*rc::gen::arbitrary<bool>()) {
    acceptance.animal = *AnyIdOf<AnimalId>();
  } else {
    acceptance.clutch = *AnyIdOf<ClutchId>();
  }
  acceptance.offer = *AnyIdOf<Token>();
  acceptance.agreement_digests.resize(*rc::gen::element<std::size_t>(0, 1, 16));
  for (Hash& digest : acceptance.agreement_digests) digest = *AnyBytes<Hash>();
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

void Draw(DeviceInvitation& invitation) {
  invitation.invite_key = *AnyBytes<PublicKey>();
  invitation.keeper = *AnyIdOf<KeeperId>();
  invitation.label = *rc::gen::element<std::string>("", "field laptop");
}

void Draw(DeviceJoining& joining) {
  joining.invite_key = *AnyBytes<PublicKey>();
  joining.keeper = *AnyIdOf<KeeperId>();
  joining.device_key = *AnyBytes<PublicKey>();
  joining.invite_signature = *AnyBytes<Signature>();
}

void Draw(Revocation& revocation) {
  revocation.device = *AnyIdOf<DeviceId>();
  revocation.incarnation = *rc::gen::element<std::uint32_t>(1, 7);
  revocation.seq = *rc::gen::element<std::uint64_t>(1, 1'000'000);
  revocation.hash = *AnyBytes<Hash>();
  revocation.awaited.resize(*rc::gen::element<std::size_t>(0, 1, kAwaitedMax));
  for (Hash& hash : revocation.awaited) hash = *AnyBytes<Hash>();
  if (!revocation.awaited.empty()) revocation.awaited.back() = revocation.hash;
  revocation.reason = *AnyText();
}

void Draw(Adoption& adoption) {
  Restatement again;
  Draw(again);
  adoption = {.commit = again.commit, .signature = again.signature, .told = again.told};
}

void Draw(KeyRotation& rotation) {
  rotation.device_key = *AnyBytes<PublicKey>();
  rotation.key_signature = *AnyBytes<Signature>();
}

void Draw(RoleChange& change) {
  change.keeper = *AnyIdOf<KeeperId>();
  change.role = Any(Role::kObserver, 1);
  change.reason = *AnyText();
}

void Draw(MotionSignature& signature) {
  signature.motion = *AnyIdOf<MotionId>();
}

void Draw(Leaving& leaving) {
  leaving.reason = *AnyText();
}

void Draw(LeaseTaking& lease) {
  lease.lease = *AnyIdOf<LeaseId>();
  lease.until = *AnyDay();
  if (*rc::gen::arbitrary<bool>()) {
    lease.lot = *AnyIdOf<LotId>();
    lease.slings = *AnySlings(1);
    return;
  }
  lease.animal = *AnyIdOf<AnimalId>();
  lease.owner_token = *AnyIdOf<Token>();
  lease.holder_token = *AnyIdOrNone<Token>();
}

void Draw(LeaseRelease& release) {
  release.lease = *AnyIdOf<LeaseId>();
  if (*rc::gen::arbitrary<bool>()) {
    release.lot = *AnyIdOf<LotId>();
  } else {
    release.animal = *AnyIdOf<AnimalId>();
  }
}

void Draw(SealingKeyEntry& entry) {
  entry.key = *AnyBytes<SealingKeyBytes>();
}

void Draw(SealedEntry& entry) {
  entry.note = *AnyIdOf<SealedNoteId>();
  entry.kind = Any(SealedSubject::kClutch, 1);
  entry.subject = (*AnyIdOf<AnimalId>()).bytes;
  entry.field = Any(SealedField::kNote, 1);
  entry.replaced.assign(*rc::gen::inRange<std::size_t>(0, 3), *AnyIdOf<SealedNoteId>());
  entry.readers.assign(*rc::gen::element<std::size_t>(0, 1, kReadersMax), *AnyIdOf<KeeperId>());
  if (entry.replaced.empty() || *rc::gen::arbitrary<bool>()) {
    entry.sealed.assign(*rc::gen::element<std::size_t>(1, 100, kEnvelopeBytesMax), '\xe5');
  }
  entry.until = Maybe(AnyDay());
}

void Draw(Resealing& resealing) {
  resealing.note = *AnyIdOf<SealedNoteId>();
  resealing.copy_token = *AnyIdOf<Token>();
  resealing.sealed.assign(*rc::gen::element<std::size_t>(1, kEnvelopeBytesMax), '\xe5');
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
  return std::array{&Drawn<std::variant_alternative_t<kIndex + 1, StatementKinds>>...};
}

constexpr std::size_t kKinds = std::variant_size_v<StatementKinds> - 1;

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
