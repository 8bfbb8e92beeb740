#include "tests/registry/world.h"

#include "fmt/core.h"
#include "gtest/gtest.h"

#include "client/device/key.h"

namespace broodpact::registry {
namespace {

constexpr std::int64_t kNoon = 1'780'315'200'000;  // 2026-06-01T12:00:00Z

device::SecretKey KeyOf(std::uint8_t seed) {
  return device::SecretKey::OfSeed(std::string(32, static_cast<char>(seed)));
}

Member MemberOf(std::string name, std::uint8_t number) {
  const PublicKey key = KeyOf(number).public_key();
  return {.name = std::move(name),
          .id = Numbered<KeeperId>(number),
          .key = key,
          .device = DeviceOf(key)};
}

}  // namespace

DaySpan On(std::string_view text) {
  const absl::StatusOr<DaySpan> span = ParseDaySpan(text);
  EXPECT_TRUE(span.ok()) << text;
  return *span;
}

std::string Short(const Verdict& verdict) {
  std::string text;
  switch (verdict.kind) {
    case VerdictKind::kCounted:
      text = "counted";
      break;
    case VerdictKind::kSuperseded:
      text = "superseded";
      break;
    case VerdictKind::kRefused:
      text = "refused";
      break;
    case VerdictKind::kVoid:
      text = "void";
      break;
    case VerdictKind::kHeld:
      text = "held";
      break;
  }
  if (!verdict.reason.empty()) text += " " + verdict.reason;
  if (verdict.winner_arrival != 0) text += fmt::format(" by {}", verdict.winner_arrival);
  return text;
}

World::World()
    : mira(MemberOf("mira", 1)),
      tomas(MemberOf("tomas", 2)),
      bela(MemberOf("bela", 3)),
      iva(MemberOf("iva", 4)),
      group(Numbered<GroupId>(1)),
      state_(std::make_unique<State>(source_)) {
  EXPECT_EQ(Say(mira, {facts::Founding{.name = "brood",
                                       .keeper = mira.id,
                                       .keeper_name = mira.name,
                                       .device_key = mira.key,
                                       .region = "SE"}}),
            "counted");
  cooperative = history_.front().commit.hash;
  Join(tomas, 12);
  Join(bela, 13);
  Join(iva, 14);
  EXPECT_EQ(Say(mira, {facts::GroupEntry{.group = group,
                                         .name = "hamorii-colima",
                                         .taxon = "Tliltocatl hamorii",
                                         .locality = "Colima",
                                         .line = ""}}),
            "counted");
}

void World::Join(const Member& member, std::uint8_t seed) {
  const device::SecretKey invite = KeyOf(seed);
  EXPECT_EQ(Say(mira, {facts::Invitation{.invite_key = invite.public_key()}}), "counted");
  const std::string message = facts::JoiningMessage(cooperative, member.id, member.key);
  EXPECT_EQ(Say(member, {facts::Joining{.invite_key = invite.public_key(),
                                        .keeper = member.id,
                                        .keeper_name = member.name,
                                        .device_key = member.key,
                                        .invite_signature = invite.Sign(message)}}),
            "counted");
}

facts::Arrived World::Next(const Member& member, std::vector<facts::Statement> statements) {
  facts::Arrived arrived;
  arrived.commit.hash = Sha256(fmt::format("commit {}", ++commits_));
  arrived.commit.header.cooperative = cooperative;
  arrived.commit.header.device = member.device;
  arrived.commit.header.seen.arrivals = arrival_;
  arrived.commit.statements = std::move(statements);
  arrived.arrival = arrival_ + 1;
  arrived.time_ms = kNoon + std::int64_t{1'000} * commits_;
  return arrived;
}

std::string World::FoldNext(const facts::Arrived& arrived) {
  verdict_ = Fold(*state_, arrived);
  EXPECT_TRUE(state_->source_status().ok());
  token_ = arrived.commit.token();
  if (arrived.arrival > 0) arrival_ = arrived.arrival;
  history_.push_back(arrived);
  verdicts_.push_back(verdict_);
  return Short(verdict_);
}

std::string World::Say(const Member& member, std::vector<facts::Statement> statements) {
  return FoldNext(Next(member, std::move(statements)));
}

std::string World::SayProvisionally(const Member& member,
                                    std::vector<facts::Statement> statements) {
  facts::Arrived arrived = Next(member, std::move(statements));
  arrived.arrival = 0;
  return FoldNext(arrived);
}

AnimalId World::Enter(const Member& owner, std::string_view name, facts::Sex sex) {
  const auto id = NewId<AnimalId>();
  EXPECT_EQ(Say(owner, {facts::AnimalEntry{
                           .animal = id, .group = group, .name = std::string(name), .sex = sex}}),
            "counted");
  return id;
}

facts::Agreement World::AgreementOf(const Member& lender, const Member& borrower,
                                    const AnimalId& animal, std::uint32_t weight) {
  facts::Agreement agreement;
  agreement.loan = NewId<LoanId>();
  agreement.cooperative = cooperative;
  agreement.animal = animal;
  agreement.lender = lender.id;
  agreement.borrower = borrower.id;
  agreement.terms.parties = {{.keeper = lender.id, .role = facts::PartyRole::kMaleOwner},
                             {.keeper = borrower.id, .role = facts::PartyRole::kFemaleOwner}};
  agreement.terms.shares = {{.party = 0, .weight = 1}, {.party = 1, .weight = weight}};
  return agreement;
}

facts::LoanProposal World::ProposalOf(const facts::Agreement& agreement) const {
  facts::LoanProposal proposal;
  proposal.agreement = facts::BuildAgreement(agreement);
  proposal.agreement_digest = Sha256(proposal.agreement);
  proposal.parsed = agreement;
  return proposal;
}

LoanId World::Propose(const Member& author, const facts::Agreement& agreement) {
  EXPECT_EQ(Say(author, {ProposalOf(agreement)}), "counted");
  return agreement.loan;
}

std::string World::Sign(const Member& member, const LoanId& loan_id) {
  return Say(member, {facts::LoanSignature{.loan = loan_id,
                                           .agreement_digest = loan(loan_id).agreement_digest}});
}

LoanId World::Lend(const Member& owner, const Member& borrower, const AnimalId& animal_id,
                   std::uint32_t weight) {
  const LoanId id = Propose(owner, AgreementOf(owner, borrower, animal_id, weight));
  EXPECT_EQ(Sign(borrower, id), "counted");
  return id;
}

ClutchId World::Lay(const Member& member, const AnimalId& female, const LoanId& loan_id) {
  const auto id = NewId<ClutchId>();
  EXPECT_EQ(
      Say(member, {facts::SacLaying{
                      .clutch = id, .female = female, .day = On("2026-05-01"), .loan = loan_id}}),
      "counted");
  return id;
}

Token World::Count(const Member& member, const ClutchId& clutch_id, std::uint32_t living,
                   std::uint32_t dead) {
  EXPECT_EQ(Say(member, {facts::Count{.clutch = clutch_id,
                                      .day = On("2026-05-20"),
                                      .slings_living = living,
                                      .slings_dead = dead}}),
            "counted");
  return token();
}

LotId World::ShareOut(const Member& owner, const ClutchId& clutch_id) {
  const Clutch counted = clutch(clutch_id);
  const auto lot_id = NewId<LotId>();
  EXPECT_EQ(Say(owner, {facts::SplitRecord{.clutch = clutch_id,
                                           .count_token = counted.counts.back().token,
                                           .shares = {{.keeper = counted.owner,
                                                       .slings = counted.accounts.undivided,
                                                       .lot = lot_id}}}}),
            "counted");
  return lot_id;
}

Animal World::animal(const AnimalId& id) {
  const Animal* found = state_->Find<Animal>(id);
  EXPECT_NE(found, nullptr);
  return found != nullptr ? *found : Animal{};
}

Loan World::loan(const LoanId& id) {
  const Loan* found = state_->Find<Loan>(id);
  EXPECT_NE(found, nullptr);
  return found != nullptr ? *found : Loan{};
}

Clutch World::clutch(const ClutchId& id) {
  const Clutch* found = state_->Find<Clutch>(id);
  EXPECT_NE(found, nullptr);
  return found != nullptr ? *found : Clutch{};
}

Lot World::lot(const LotId& id) {
  const Lot* found = state_->Find<Lot>(id);
  EXPECT_NE(found, nullptr);
  return found != nullptr ? *found : Lot{};
}

std::vector<Clash> World::clashes() {
  return Flush().All<Clash>();
}

const MapSource& World::Flush() {
  source_.Store(state_->TakeChanges());
  return source_;
}

}  // namespace broodpact::registry
