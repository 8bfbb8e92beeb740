#include "tests/registry/history.h"

#include <algorithm>

#include "fmt/core.h"

#include "client/registry/interval.h"
#include "client/registry/share_due.h"
#include "client/registry/version.h"
#include "client/shares/ratio.h"
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

facts::Statement History::AboutVersion(const LoanId& id, const Loan* loan) {
  if (loan == nullptr) return facts::LoanRefusal{.loan = id, .reason = "no"};
  if (!loan->versions.empty() && Roll(3) > 0) {
    const Hash digest = AnyOf(loan->versions).digest;
    if (Roll(5) == 0) return facts::LoanRefusal{.loan = id, .agreement_digest = digest};
    return facts::LoanSignature{.loan = id, .agreement_digest = digest};
  }
  facts::Agreement agreement =
      world.AgreementOf(world.mira, world.tomas, loan->animal, 1 + Roll(3));
  agreement.loan = id;
  agreement.lender = loan->lender;
  agreement.borrower = loan->borrower;
  agreement.terms.parties[0].keeper = loan->lender;
  agreement.terms.parties[1].keeper = loan->borrower;
  agreement.replaces = loan->agreement_digest;
  if (Roll(2) == 0) agreement.clutches = {AnyOf(clutches_)};
  facts::LoanAmendment amendment;
  amendment.agreement = facts::BuildAgreement(agreement);
  amendment.agreement_digest = Sha256(amendment.agreement);
  amendment.parsed = std::move(agreement);
  return amendment;
}

facts::Statement History::AboutLoan() {
  // Mostly a late one: early ones are settled.
  const LoanId id =
      Roll(3) == 0 ? AnyOf(loans_) : loans_[loans_.size() - 1 - Roll(2) % loans_.size()];
  const Loan* loan = world.state().Find<Loan>(id);
  switch (Roll(9)) {
    case 7:
    case 8:
      return AboutVersion(id, loan);
    case 0: {
      const AnimalId animal = AnyOf(animals_);
      facts::Agreement agreement = world.AgreementOf(AnyMember(), AnyMember(), animal, 1 + Roll(3));
      if (const Animal* found = world.state().Find<Animal>(animal); found != nullptr) {
        agreement.lender = found->owner;
        agreement.terms.parties[0].keeper = found->owner;
      }
      if (agreement.lender == agreement.borrower) return AboutAnimal();
      agreement.terms.apportioning.carry = static_cast<facts::Carry>(Roll(4));
      agreement.terms.apportioning.method = static_cast<facts::Method>(Roll(5));
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

shares::Occasion History::OccasionOf(const Clutch& clutch, const facts::Terms& terms) {
  if (clutch.shared_out) return clutch.occasion;
  shares::Occasion occasion{.sac_number = clutch.occasion.sac_number};
  const Animal& female = *world.state().Find<Animal>(clutch.female);
  std::vector<Pairing> pairings;
  for (const PairingId& id : female.pairings) pairings.push_back(*world.state().Find<Pairing>(id));
  occasion.sire_owners = SireOwnersOf(female, clutch.laying, pairings);
  const auto id = shares::CarryIdOf(terms, occasion.sac_number);
  const Carry* carry = id ? world.state().Find<Carry>(*id) : nullptr;
  if (carry != nullptr) occasion.carried_slings = carry->slings;
  return occasion;
}

facts::Statement History::AboutSplit() {
  facts::SplitRecord split{.clutch = AnyOf(clutches_)};
  const Clutch* clutch = world.state().Find<Clutch>(split.clutch);
  if (clutch == nullptr || clutch->counts.empty()) return split;
  for (const CountRecord& count : clutch->counts) {
    if (count.state == CountState::kStanding || Roll(10) == 0) split.count_token = count.token;
  }
  SeatsDue due;
  if (const Loan* loan = world.state().Find<Loan>(clutch->loan); loan != nullptr) {
    const auto agreement = facts::ParseAgreement(VersionOf(*loan, clutch->agreement)->agreement);
    const shares::Occasion occasion = OccasionOf(*clutch, agreement->terms);
    const auto slings = static_cast<std::uint32_t>(SlingsToShare(*clutch));
    due =
        DueByTerms(*clutch, agreement->terms, *shares::SplitOf(agreement->terms, slings, occasion));
    split.carried_slings = occasion.carried_slings;
  } else {
    due = DueWithoutTerms(*clutch);
  }
  if (Roll(10) == 0) ++due.slings[0];
  for (std::size_t i = 0; i < due.slings.size(); ++i) {
    split.shares.push_back({.keeper = due.seats[i].receiver,
                            .slings = due.slings[i],
                            .lot = due.slings[i] > 0 ? NewOf(lots_) : LotId{}});
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
          .day = AnyDay(),
          .replaced = Roll(4) == 0 ? AnyOf(lots_) : LotId{}};
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

facts::Statement History::AboutLotChange() {
  const LotId id = AnyOf(lots_);
  const Lot* lot = world.state().Find<Lot>(id);
  switch (Roll(4)) {
    case 0:
      return facts::LotReturn{.lot = id, .slings = Roll(6), .day = AnyDay()};
    case 1:
      return facts::LotPassing{.lot = id,
                               .new_lot = NewOf(lots_),
                               .receiver = AnyMember().id,
                               .slings = Roll(6),
                               .day = AnyDay()};
    case 2:
      return facts::LotDivision{
          .lot = id, .new_lot = NewOf(lots_), .slings = Roll(6), .day = AnyDay()};
    default: {
      facts::LotMerging merging{.lot = id, .day = AnyDay()};
      for (const LotId& other : lots_) {
        const Lot* found = world.state().Find<Lot>(other);
        if (lot == nullptr || found == nullptr || merging.merged.size() > 2) continue;
        const bool alike = found->clutch == lot->clutch && found->owner == lot->owner &&
                           found->holder == lot->holder && other != id;
        if (alike || Roll(20) == 0) merging.merged.push_back(other);
      }
      return merging;
    }
  }
}

facts::Statement History::AboutShare() {
  const ClutchId id = AnyOf(clutches_);
  const Clutch* clutch = world.state().Find<Clutch>(id);
  switch (Roll(6)) {
    case 0:
      return facts::Succession{.keeper = AnyMember().id,
                               .successor = Roll(2) == 0 ? AnyMember().id : KeeperId{},
                               .day = AnyDay()};
    case 1:
    case 2:
      return facts::LateHatching{.clutch = id, .slings = 1 + Roll(5), .day = AnyDay()};
    default: {
      facts::ShareWaiver waiver{.clutch = id, .party = AnyMember().id};
      if (clutch != nullptr) waiver.party = AnyOf(clutch->parties).party;
      if (Roll(2) == 0) waiver.receiver = AnyMember().id;
      return waiver;
    }
  }
}

facts::ClashSettlement History::SettlementOf(const Clash& clash) {
  facts::ClashSettlement settlement{.clash = clash.id, .words = "as we agreed"};
  const Clutch* clutch = world.state().Find<Clutch>(clash.subject);
  if (clutch == nullptr || clutch->counts.empty()) return settlement;
  if (Roll(2) == 0) settlement.count_token = AnyOf(clutch->counts).token;
  if (Roll(3) == 0 && !clutch->parties.empty()) {
    std::uint32_t left = clutch->accounts.undivided;
    for (const PartyShare& share : clutch->parties) {
      const bool last = &share == &clutch->parties.back();
      const std::uint32_t slings = last ? left : Roll(left + 1);
      left -= slings;
      settlement.shares.push_back(
          {.keeper = share.receiver, .slings = slings, .lot = slings > 0 ? NewOf(lots_) : LotId{}});
    }
  }
  if (Roll(3) == 0 && !clutch->lots.empty()) {
    settlement.moves.push_back({.lot = AnyOf(clutch->lots),
                                .keeper = AnyMember().id,
                                .slings = 1 + Roll(3),
                                .new_lot = NewOf(lots_)});
  }
  return settlement;
}

facts::Statement History::AboutClash() {
  const ClashId id =
      clashes_.empty() ? ClashId{} : clashes_[clashes_.size() - 1 - Roll(3) % clashes_.size()];
  const Clash* clash = world.state().Find<Clash>(id);
  switch (clash == nullptr ? 0 : Roll(6)) {
    case 0:
    case 1: {
      facts::Objection objection{.clutch = AnyOf(clutches_), .reason = "no", .day = AnyDay()};
      const Clutch* clutch = world.state().Find<Clutch>(objection.clutch);
      if (clutch != nullptr && Roll(2) == 0) objection.count_token = AnyOf(clutch->counts).token;
      if (Roll(8) == 0) objection.count_token = AnyOf(tokens_);
      return objection;
    }
    case 2:
      return facts::ClashWithdrawal{.clash = id, .reason = "sorry"};
    case 3:
    case 4:
      return SettlementOf(*clash);
    default:
      return facts::ClashSignature{.clash = id, .settlement = AnyOf(clash->settlements).token};
  }
}

facts::Statement History::AboutDue() {
  const AnimalId animal = AnyOf(animals_);
  const Animal* found = world.state().Find<Animal>(animal);
  const ClutchId clutch = AnyOf(clutches_);
  const Clutch* sac = world.state().Find<Clutch>(clutch);
  const auto accept = [&](auto id, const std::optional<DueOffer>& offer) {
    facts::DueAcceptance acceptance;
    if constexpr (std::is_same_v<decltype(id), AnimalId>) {
      acceptance.animal = id;
    } else {
      acceptance.clutch = id;
    }
    acceptance.offer = offer.has_value() ? offer->token : AnyOf(tokens_);
    if (!offer.has_value()) return acceptance;
    for (const LoanId& loan : offer->loans) {
      acceptance.agreement_digests.push_back(world.loan(loan).agreement_digest);
    }
    return acceptance;
  };
  switch (Roll(4)) {
    case 0: {
      facts::Gift gift{.animal = animal,
                       .receiver = AnyMember().id,
                       .owner_token = AnyToken(animal, true),
                       .holder_token = AnyToken(animal, false)};
      if (found == nullptr || Roll(4) == 0) return gift;
      for (const PairingId& id : found->pairings) {
        const LoanId loan = world.state().Find<Pairing>(id)->loan;
        const bool named = std::ranges::find(gift.due_loans, loan) != gift.due_loans.end();
        if (!loan.empty() && !named) gift.due_loans.push_back(loan);
      }
      return gift;
    }
    case 1:
      return facts::SacGift{.clutch = clutch,
                            .receiver = AnyMember().id,
                            .due_loan = sac != nullptr && Roll(5) > 0 ? sac->loan : LoanId{},
                            .day = AnyDay()};
    case 2:
      return accept(clutch, sac == nullptr ? std::nullopt : sac->offer);
    default:
      return accept(animal, found == nullptr ? std::nullopt : found->offer);
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

// Envelopes of any bytes: the fold opens none.
facts::Statement History::AboutNote() {
  const SealedNoteId known = AnyOf(notes_);
  const SealedNote* note = world.state().Find<SealedNote>(known);
  if (note != nullptr && Roll(3) == 0) {
    const KeeperId reader = Roll(2) == 0 ? note->keeper : AnyOf(note->readers);
    const SealedCopy* copy = CopyFor(*note, reader);
    return facts::Resealing{
        .note = known,
        .copy_token = copy != nullptr && Roll(4) > 0 ? copy->token : AnyOf(tokens_),
        .sealed = "sealed further"};
  }
  facts::SealedEntry entry{.note = NewOf(notes_),
                           .kind = facts::SealedSubject::kAnimal,
                           .subject = AnyOf(animals_).bytes,
                           .field = static_cast<facts::SealedField>(1 + Roll(4)),
                           .sealed = "sealed"};
  if (Roll(2) == 0) entry.readers = {AnyMember().id};
  if (note != nullptr && Roll(2) == 0) {
    entry.subject = note->subject;
    entry.field = note->field;
    entry.replaced = {known};
    if (Roll(3) == 0) entry.sealed.clear();
  }
  return entry;
}

facts::Statement History::AnyStatement() {
  switch (Roll(13)) {
    case 12:
      return AboutNote();
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
      return AboutShare();
    case 6:
      return AboutClash();
    case 7:
      return AboutDue();
    case 8:
      return lots_.empty() ? AboutClutch() : AboutLotChange();
    case 9:
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
    if (lot == nullptr) return KeeperId{};
    return !lot->receiver.empty() ? lot->receiver : Roll(3) == 0 ? lot->owner : lot->holder;
  };
  const auto of_clash = [&](const ClashId& id) {
    const Clash* clash = state.Find<Clash>(id);
    return clash == nullptr ? KeeperId{} : AnyOf(clash->parties);
  };
  return std::visit(
      [&](const auto& s) {
        if constexpr (requires { s.other_keeper; }) {
          return of_animal(s.animal);
        } else if constexpr (requires { s.copy_token; }) {
          const SealedNote* note = state.Find<SealedNote>(s.note);
          if (note == nullptr) return KeeperId{};
          return Roll(2) == 0 || note->readers.empty() ? note->keeper : AnyOf(note->readers);
        } else if constexpr (requires { s.readers; }) {
          return of_animal(AnimalId{s.subject});
        } else if constexpr (requires { s.want; }) {
          const Want* want = state.Find<Want>(s.want);
          return want == nullptr ? KeeperId{} : want->keeper;
        } else if constexpr (requires { s.offer; }) {
          const Animal* animal = state.Find<Animal>(s.animal);
          const Clutch* clutch = state.Find<Clutch>(s.clutch);
          if (animal != nullptr && animal->offer) return animal->offer->receiver;
          return clutch != nullptr && clutch->offer ? clutch->offer->receiver : KeeperId{};
        } else if constexpr (requires { s.clash; }) {
          return of_clash(s.clash);
        } else if constexpr (requires { s.party; }) {
          return s.party;
        } else if constexpr (requires { s.successor, s.keeper; }) {
          return s.keeper;
        } else if constexpr (requires { s.lot; }) {
          return of_lot(s.lot);
        } else if constexpr (requires { s.parcel; }) {
          return of_lot(s.parcel);
        } else if constexpr (requires { s.clutch, s.female; }) {
          return of_animal(s.female);
        } else if constexpr (requires { s.clutch; }) {
          return of_clutch(s.clutch);
        } else if constexpr (requires { s.parsed.lender; }) {
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

void History::AddClashAbout(const IdBytes& subject) {
  const Hash& hash = world.history().back().commit.hash;
  const auto id = FirstHalf<ClashId>(Sha256({ViewOf(hash), "clash", ViewOf(subject)}));
  if (world.state().Find<Clash>(id) != nullptr) clashes_.push_back(id);
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
  for (const AnimalId& id : animals_) AddClashAbout(id.bytes);
  for (const ClutchId& id : clutches_) AddClashAbout(id.bytes);
  Forget<Want>(wants_);
  Forget<SealedNote>(notes_);
}

}  // namespace broodpact::registry
