#include "tests/registry/history.h"

#include "fmt/core.h"

#include "client/shares/split.h"

namespace broodpact::registry {

History::History(std::uint32_t seed) : random_(seed) {
  // Something to lend, pair and count from the start.
  animals_.push_back(world.Enter(world.mira, "m", facts::Sex::kMale));
  animals_.push_back(world.Enter(world.tomas, "f", facts::Sex::kFemale));
  loans_.push_back(world.Lend(world.mira, world.tomas, animals_[0], 2));
  clutches_.push_back(world.Lay(world.tomas, animals_[1], loans_[0]));
}

template <typename AnyId>
AnyId History::NewOf(std::vector<AnyId>& ids) {
  // Now and then an id that was used before, or one whose commit may not have counted.
  if (!ids.empty() && Roll(30) == 0) return AnyOf(ids);
  if (Roll(10) == 0) return world.LastNewId<AnyId>();
  ids.push_back(world.NewId<AnyId>());
  return ids.back();
}

template <typename Subject, typename AnyId>
void History::Forget(std::vector<AnyId>& ids) {
  std::erase_if(ids, [&](const AnyId& id) { return world.state().Find<Subject>(id) == nullptr; });
}

const Member& History::AnyMember() {
  const Member* members[] = {&world.mira, &world.tomas, &world.bela, &world.iva};
  return *members[Roll(4)];
}

DaySpan History::AnyDay() {
  const Day day{20'500 + static_cast<std::int32_t>(Roll(120))};
  return {.earliest = day, .latest = {day.number + static_cast<std::int32_t>(Roll(3))}};
}

Token History::AnyToken(const AnimalId& animal, bool owner) {
  const Animal* found = world.state().Find<Animal>(animal);
  if (found == nullptr || Roll(5) == 0) return AnyOf(tokens_);
  return owner ? found->owner_token : found->holder_token;
}

facts::Statement History::AboutAnimal() {
  const AnimalId animal = AnyOf(animals_);
  switch (Roll(7)) {
    case 0:
    case 1:
      return facts::AnimalEntry{.animal = NewOf(animals_),
                                .group = world.group,
                                .name = fmt::format("{}{}", Roll(2) == 0 ? "a" : "A", Roll(12)),
                                .sex = static_cast<facts::Sex>(Roll(3)),
                                .sire = Roll(3) == 0 ? AnyOf(animals_) : AnimalId{},
                                .dam = Roll(3) == 0 ? AnyOf(animals_) : AnimalId{}};
    case 2:
      return facts::Moult{.animal = animal, .day = AnyDay()};
    case 3:
      return facts::Maturity{.animal = animal, .day = AnyDay()};
    case 4:
      return facts::SexClaim{
          .animal = animal, .sex = static_cast<facts::Sex>(Roll(3)), .day = AnyDay()};
    case 5:
      if (Roll(4) == 0) return facts::Death{.animal = animal, .day = AnyDay(), .cause = "age"};
      [[fallthrough]];
    default:
      return facts::Gift{.animal = animal,
                         .receiver = AnyMember().id,
                         .owner_token = AnyToken(animal, true),
                         .holder_token = Roll(2) == 0 ? AnyToken(animal, false) : Token{}};
  }
}

facts::Statement History::AboutLoan() {
  // Mostly a late one: early ones are settled.
  const LoanId id =
      Roll(3) == 0 ? AnyOf(loans_) : loans_[loans_.size() - 1 - Roll(2) % loans_.size()];
  const Loan* loan = world.state().Find<Loan>(id);
  switch (Roll(7)) {
    case 0: {
      const AnimalId animal = AnyOf(animals_);
      facts::Agreement agreement = world.AgreementOf(AnyMember(), AnyMember(), animal, 1 + Roll(3));
      if (const Animal* found = world.state().Find<Animal>(animal); found != nullptr) {
        agreement.lender = found->owner;
        agreement.terms.parties[0].keeper = found->owner;
      }
      if (agreement.lender == agreement.borrower) return AboutAnimal();
      agreement.loan = NewOf(loans_);
      return world.ProposalOf(agreement);
    }
    case 1:
      return facts::LoanRefusal{.loan = id, .reason = "no"};
    case 2:
      return facts::LoanClosure{.loan = id, .day = AnyDay()};
    default:
      return facts::LoanSignature{
          .loan = id,
          .agreement_digest = loan != nullptr && Roll(10) > 0 ? loan->agreement_digest : Hash{}};
  }
}

facts::Statement History::AboutHandover() {
  const LoanId id = AnyOf(loans_);
  const Loan* loan = world.state().Find<Loan>(id);
  if (loan == nullptr || Roll(2) == 0) {
    return facts::Receipt{.loan = id,
                          .day = AnyDay(),
                          .condition = Roll(20) == 0 ? facts::ArrivalCondition::kDead
                                                     : facts::ArrivalCondition::kWell};
  }
  return facts::Dispatch{.loan = id,
                         .receiver = Roll(2) == 0 ? loan->lender : loan->borrower,
                         .holder_token = AnyToken(loan->animal, false),
                         .day = AnyDay()};
}

facts::Statement History::AboutClutch() {
  const ClutchId id = AnyOf(clutches_);
  const Clutch* clutch = world.state().Find<Clutch>(id);
  switch (Roll(8)) {
    case 0:
      return facts::Pairing{.pairing = NewOf(pairings_),
                            .male = AnyOf(animals_),
                            .female = AnyOf(animals_),
                            .day = AnyDay(),
                            .outcome = static_cast<facts::PairingOutcome>(Roll(4)),
                            .loan = Roll(2) == 0 ? AnyOf(loans_) : LoanId{}};
    case 1:
      return facts::SacLaying{.clutch = NewOf(clutches_),
                              .female = AnyOf(animals_),
                              .day = AnyDay(),
                              .loan = Roll(2) == 0 ? AnyOf(loans_) : LoanId{}};
    case 2:
      if (Roll(2) == 0) return facts::SacPulling{.clutch = id, .day = AnyDay()};
      return facts::SacLoss{.clutch = id, .day = AnyDay(), .cause = "mould"};
    case 3:
    case 4: {
      Token replaces;
      if (clutch != nullptr && !clutch->counts.empty() && Roll(3) > 0) {
        replaces = AnyOf(clutch->counts).token;
      }
      return facts::Count{.clutch = id,
                          .day = AnyDay(),
                          .slings_living = Roll(30),
                          .slings_dead = Roll(4),
                          .count_token = replaces};
    }
    default:
      return AboutSplit();
  }
}

facts::Statement History::AboutSplit() {
  facts::SplitRecord split{.clutch = AnyOf(clutches_)};
  const Clutch* clutch = world.state().Find<Clutch>(split.clutch);
  if (clutch == nullptr || clutch->counts.empty()) return split;
  split.count_token = clutch->counts.back().token;
  std::vector<std::uint32_t> due = {clutch->accounts.undivided};
  std::vector<KeeperId> parties = {clutch->owner};
  if (const Loan* loan = world.state().Find<Loan>(clutch->loan); loan != nullptr) {
    const auto agreement = facts::ParseAgreement(loan->agreement);
    due = shares::SplitOf(agreement->terms, clutch->accounts.undivided)->slings;
    parties = loan->parties;
  }
  if (Roll(10) == 0) ++due[0];
  for (std::size_t i = 0; i < parties.size(); ++i) {
    split.shares.push_back(
        {.keeper = parties[i], .slings = due[i], .lot = due[i] > 0 ? NewOf(lots_) : LotId{}});
  }
  return split;
}

facts::Statement History::AboutLot() {
  const LotId id = AnyOf(lots_);
  const Lot* lot = world.state().Find<Lot>(id);
  switch (Roll(5)) {
    case 0:
    case 1:
      return facts::LotDispatch{
          .lot = id,
          .parcel = NewOf(lots_),
          .receiver = lot != nullptr && Roll(2) == 0 ? lot->owner : AnyMember().id,
          .slings = Roll(8),
          .day = AnyDay()};
    case 2:
      return facts::LotReceipt{
          .parcel = id, .slings_living = Roll(9), .slings_dead = Roll(3), .day = AnyDay()};
    case 3:
      return facts::LotLoss{.lot = id, .slings = Roll(4), .day = AnyDay()};
    default:
      return facts::LotRaising{.lot = id,
                               .animal = NewOf(animals_),
                               .name = fmt::format("r{}", Roll(30)),
                               .sex = static_cast<facts::Sex>(Roll(3)),
                               .day = AnyDay()};
  }
}

facts::Statement History::AboutWish() {
  switch (Roll(4)) {
    case 0:
      return facts::WantEntry{.want = NewOf(wants_),
                              .group = world.group,
                              .kind = static_cast<facts::WantKind>(1 + Roll(3)),
                              .count = Roll(20)};
    case 1:
      return facts::WantEnd{.want = AnyOf(wants_)};
    default:
      return facts::PlanVeto{
          .animal = Roll(3) == 0 ? AnimalId{} : AnyOf(animals_),
          .other_keeper = Roll(2) == 0 ? KeeperId{} : AnyMember().id,
          .stance = Roll(3) == 0 ? facts::VetoStance::kLifted : facts::VetoStance::kStands};
  }
}

facts::Statement History::AnyStatement() {
  switch (Roll(8)) {
    case 0:
    case 1:
      return AboutAnimal();
    case 2:
      return AboutLoan();
    case 3:
      return AboutHandover();
    case 4:
      return AboutClutch();
    case 5:
      return AboutWish();
    default:
      return lots_.empty() ? AboutClutch() : AboutLot();
  }
}

const Member& History::MemberOf(const KeeperId& keeper) {
  for (const Member* member : {&world.mira, &world.tomas, &world.bela, &world.iva}) {
    if (member->id == keeper) return *member;
  }
  return AnyMember();
}

KeeperId History::LikelyAuthor(const facts::Statement& statement) {
  State& state = world.state();
  const auto of_animal = [&](const AnimalId& id) {
    const Animal* animal = state.Find<Animal>(id);
    if (animal == nullptr) return KeeperId{};
    return Roll(2) == 0 ? animal->owner : animal->holder;
  };
  const auto of_loan = [&](const LoanId& id) {
    const Loan* loan = state.Find<Loan>(id);
    return loan == nullptr ? KeeperId{} : AnyOf(loan->parties);
  };
  const auto of_clutch = [&](const ClutchId& id) {
    const Clutch* clutch = state.Find<Clutch>(id);
    if (clutch == nullptr) return KeeperId{};
    return Roll(2) == 0 ? clutch->owner : clutch->holder;
  };
  const auto of_lot = [&](const LotId& id) {
    const Lot* lot = state.Find<Lot>(id);
    return lot == nullptr ? KeeperId{} : lot->receiver.empty() ? lot->holder : lot->receiver;
  };
  return std::visit(
      [&](const auto& s) {
        if constexpr (requires { s.other_keeper; }) {
          return of_animal(s.animal);
        } else if constexpr (requires { s.want; }) {
          const Want* want = state.Find<Want>(s.want);
          return want == nullptr ? KeeperId{} : want->keeper;
        } else if constexpr (requires { s.lot; }) {
          return of_lot(s.lot);
        } else if constexpr (requires { s.parcel; }) {
          return of_lot(s.parcel);
        } else if constexpr (requires { s.clutch, s.female; }) {
          return of_animal(s.female);
        } else if constexpr (requires { s.clutch; }) {
          return of_clutch(s.clutch);
        } else if constexpr (requires { s.parsed; }) {
          return Roll(2) == 0 ? s.parsed.lender : s.parsed.borrower;
        } else if constexpr (requires { s.pairing; }) {
          return of_animal(s.female);
        } else if constexpr (requires { s.loan; }) {
          return of_loan(s.loan);
        } else if constexpr (requires { s.animal; }) {
          return of_animal(s.animal);
        } else {
          return KeeperId{};
        }
      },
      statement);
}

void History::Step() {
  std::vector<facts::Statement> statements;
  const std::uint32_t count = Roll(4) == 0 ? 2 + Roll(2) : 1;
  for (std::uint32_t i = 0; i < count; ++i) statements.push_back(AnyStatement());
  const KeeperId likely = Roll(5) > 0 ? LikelyAuthor(statements[0]) : KeeperId{};
  world.Say(MemberOf(likely), std::move(statements));
  tokens_.push_back(world.token());
  // What did not come to be is mostly not spoken of.
  Forget<Animal>(animals_);
  Forget<Loan>(loans_);
  Forget<Pairing>(pairings_);
  Forget<Clutch>(clutches_);
  Forget<Lot>(lots_);
  Forget<Want>(wants_);
}

}  // namespace broodpact::registry
