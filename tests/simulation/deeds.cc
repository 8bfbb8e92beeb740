#include "tests/simulation/deeds.h"

#include <algorithm>
#include <utility>
#include <vector>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/registry/state.h"
#include "client/replica/acts_animal.h"
#include "client/replica/acts_clash.h"
#include "client/replica/acts_clutch.h"
#include "client/replica/acts_loan.h"

namespace broodpact::simulation {
namespace {

using registry::Animal;
using registry::Clash;
using registry::Clutch;
using registry::Keeper;
using registry::Loan;
using registry::Lot;

// More than a history has of any kind.
constexpr std::size_t kSubjectsMax = 512;

// A keeper with the registry before his eyes.
class Doer {
 public:
  Doer(replica::Replica& replica, Dice& dice)
      : replica_(replica), dice_(dice), self_(replica.identity().keeper) {}

  Deed Do() {
    switch (dice_.Roll(15)) {
      case 0:
      case 1:
        return {"enters an animal", EnterAnimal()};
      case 2:
        return {"records about an animal", AboutAnimal()};
      case 3:
      case 4:
        return {"proposes a loan", Propose()};
      case 5:
      case 6:
        return {"answers a loan", Answer()};
      case 7:
      case 8:
        return {"hands over", HandOver()};
      case 9:
        return {"pairs, or records a sac", PairOrLay()};
      case 10:
        return {"counts", CountSlings()};
      case 11:
        return {"shares a clutch out", ShareOut()};
      case 12:
        return {"moves a lot", AboutLot()};
      case 13:
        return {"speaks of a clash", AboutClash()};
      default:
        return {"gives away, or accepts", Give()};
    }
  }

 private:
  template <typename Subject>
  std::vector<Subject> All() {
    std::vector<Subject> all;
    const auto stored = replica_.view().SubjectsOfKind(Subject::kKind, std::nullopt, kSubjectsMax);
    if (!stored.ok()) return all;
    for (const registry::StoredSubject& one : *stored) {
      auto decoded = registry::Decode<Subject>(one.value);
      if (decoded) all.push_back(*std::move(decoded));
    }
    return all;
  }

  // One of those for which `fits` holds, if there are any and the keeper is not careless.
  template <typename Subject, typename Fits>
  std::optional<Subject> One(Fits fits) {
    std::vector<Subject> all = All<Subject>();
    if (all.empty()) return std::nullopt;
    std::vector<Subject> fitting;
    for (const Subject& one : all) {
      if (fits(one)) fitting.push_back(one);
    }
    if (fitting.empty() || dice_.Once(12)) return dice_.AnyOf(all);
    return dice_.AnyOf(fitting);
  }

  std::optional<Animal> OwnAnimal() {
    return One<Animal>([&](const Animal& a) { return a.owner == self_ && !a.death; });
  }
  std::optional<Animal> HeldAnimal(facts::Sex sex) {
    return One<Animal>(
        [&](const Animal& a) { return a.holder == self_ && a.sex == sex && !a.death; });
  }
  KeeperId OtherKeeper() {
    const auto keeper = One<Keeper>([&](const Keeper& k) { return k.id != self_; });
    return keeper ? keeper->id : self_;
  }
  DaySpan ADay() {
    const Day day{replica_.clock().Today().number - static_cast<std::int32_t>(dice_.Roll(40))};
    return {.earliest = day, .latest = day};
  }
  static absl::Status Nothing() {
    return Fail(absl::StatusCode::kFailedPrecondition, "NOTHING_TO_DO", "there is nothing of it");
  }

  absl::Status EnterAnimal() {
    const auto group = One<registry::Group>([](const auto&) { return true; });
    if (!group) return Nothing();
    return replica::EnterAnimal(replica_,
                                {.group = group->id,
                                 .name = fmt::format("a{}", dice_.Roll(60)),
                                 .sex = dice_.Once(2) ? facts::Sex::kMale : facts::Sex::kFemale,
                                 .sex_method = facts::SexMethod::kShedSkin})
        .status();
  }

  absl::Status AboutAnimal() {
    const auto animal = OwnAnimal();
    if (!animal) return Nothing();
    switch (dice_.Roll(5)) {
      case 0:
        return replica::RecordMoult(replica_, {.animal = animal->id, .day = ADay()}).status();
      case 1:
        return replica::RecordMaturity(replica_, {.animal = animal->id, .day = ADay()}, {})
            .status();
      case 2:
        return replica::ClaimSex(replica_, {.animal = animal->id,
                                            .sex = facts::Sex::kMale,
                                            .method = facts::SexMethod::kVentral,
                                            .day = ADay()})
            .status();
      case 3:
        return replica::RecordDeath(replica_, {.animal = animal->id, .day = ADay(), .cause = "age"})
            .status();
      default:
        return replica::RecordMoult(
                   replica_, {.animal = animal->id, .day = ADay(), .moult_count = dice_.Roll(9)})
            .status();
    }
  }

  facts::Terms TermsWith(const KeeperId& lender, const KeeperId& borrower) {
    facts::Terms terms;
    terms.parties = {{.keeper = lender, .role = facts::PartyRole::kMaleOwner},
                     {.keeper = borrower, .role = facts::PartyRole::kFemaleOwner}};
    terms.shares = {{.party = 0, .weight = 1 + dice_.Roll(3)},
                    {.party = 1, .weight = 1 + dice_.Roll(3)}};
    if (dice_.Once(3)) {
      terms.prior_claims = {{.party = dice_.Roll(2), .amount = 1 + dice_.Roll(5)}};
    }
    terms.apportioning.carry = static_cast<facts::Carry>(dice_.Roll(4));
    terms.apportioning.method = static_cast<facts::Method>(dice_.Roll(5));
    return terms;
  }

  absl::Status Propose() {
    if (dice_.Once(4)) return Amend();
    const auto animal = One<Animal>([&](const Animal& a) {
      return a.owner == self_ && a.sex == facts::Sex::kMale && !a.death;
    });
    if (!animal) return Nothing();
    const KeeperId borrower = animal->owner == self_ ? OtherKeeper() : self_;
    if (animal->owner == borrower) return Nothing();
    replica::LoanDraft draft{.animal = animal->id,
                             .lender = animal->owner,
                             .borrower = borrower,
                             .return_day = {},
                             .terms = TermsWith(animal->owner, borrower),
                             .name = {},
                             .open_until = {}};
    if (dice_.Once(3)) {
      draft.return_day = Day{replica_.clock().Today().number + 30};
      draft.open_until = Day{replica_.clock().Today().number + 10};
    }
    return replica::ProposeLoan(replica_, draft).status();
  }

  std::optional<Loan> OwnLoan(registry::LoanState state) {
    return One<Loan>([&](const Loan& loan) {
      return loan.state == state && std::ranges::find(loan.parties, self_) != loan.parties.end();
    });
  }

  absl::Status Amend() {
    const auto loan = OwnLoan(registry::LoanState::kInForce);
    if (!loan) return Nothing();
    return replica::AmendLoan(replica_, {.loan = loan->id,
                                         .return_day = std::nullopt,
                                         .terms = TermsWith(loan->lender, loan->borrower),
                                         .clutches = {},
                                         .open_until = {}})
        .status();
  }

  absl::Status Answer() {
    const auto open = One<Loan>([&](const Loan& loan) {
      const bool waits = loan.state == registry::LoanState::kOffered ||
                         loan.state == registry::LoanState::kAskedFor;
      const bool signed_here = std::ranges::any_of(
          loan.signatures, [&](const auto& signature) { return signature.keeper == self_; });
      return waits && !signed_here && std::ranges::find(loan.parties, self_) != loan.parties.end();
    });
    const auto loan = dice_.Once(5) ? OwnLoan(registry::LoanState::kInForce) : open;
    if (!loan) return Nothing();
    if (dice_.Once(8)) return replica::RefuseLoan(replica_, loan->id, "not this season").status();
    return replica::SignLoan(replica_, loan->id).status();
  }

  absl::Status HandOver() {
    const auto loan = OwnLoan(registry::LoanState::kInForce);
    if (!loan) return Nothing();
    const auto animal = replica::Known<Animal>(replica_, loan->animal, "animal");
    if (!animal.ok()) return animal.status();
    if (dice_.Once(12)) {
      return replica::CloseLoan(replica_, {.loan = loan->id, .day = ADay(), .reason = "done"})
          .status();
    }
    if (animal->receiver == self_ || dice_.Once(5)) {
      return replica::ReceiveAnimal(replica_,
                                    {.loan = loan->id,
                                     .day = ADay(),
                                     .condition = dice_.Once(15) ? facts::ArrivalCondition::kDead
                                                                 : facts::ArrivalCondition::kWell})
          .status();
    }
    if (animal->holder == loan->lender) {
      return replica::SendAnimal(replica_, loan->id, ADay()).status();
    }
    return replica::ReturnAnimal(replica_, loan->id, ADay()).status();
  }

  absl::Status PairOrLay() {
    const auto female = HeldAnimal(facts::Sex::kFemale);
    if (!female) return Nothing();
    if (female->pairings.empty() || dice_.Once(3)) {
      const auto male = HeldAnimal(facts::Sex::kMale);
      if (!male) return Nothing();
      return replica::RecordPairing(replica_, {.male = male->id,
                                               .female = female->id,
                                               .day = ADay(),
                                               .outcome = facts::PairingOutcome::kInsertionSeen,
                                               .loan = male->loan})
          .status();
    }
    facts::SacLaying laying{.female = female->id, .day = ADay()};
    const auto loan = replica::LoanOfLaying(replica_, female->id, laying.day);
    if (loan.ok() && *loan) laying.loan = **loan;
    return replica::RecordSac(replica_, laying).status();
  }

  std::optional<Clutch> OwnClutch() {
    return One<Clutch>([&](const Clutch& clutch) {
      return (clutch.holder == self_ || clutch.owner == self_) && !clutch.loss;
    });
  }

  absl::Status CountSlings() {
    const auto clutch = OwnClutch();
    if (!clutch) return Nothing();
    if (dice_.Once(9)) {
      return replica::LoseSac(replica_, {.clutch = clutch->id, .day = ADay(), .cause = "mould"})
          .status();
    }
    if (clutch->shared_out && dice_.Once(2)) {
      return replica::HatchLate(replica_,
                                {.clutch = clutch->id, .slings = 1 + dice_.Roll(5), .day = ADay()})
          .status();
    }
    facts::Count count{.clutch = clutch->id,
                       .day = ADay(),
                       .slings_living = dice_.Roll(60),
                       .slings_dead = dice_.Roll(4)};
    if (!clutch->counts.empty() && !dice_.Once(4)) {
      count.count_token = clutch->counts[dice_.Roll(clutch->counts.size())].token;
    }
    return replica::RecordCount(replica_, count).status();
  }

  absl::Status ShareOut() {
    const auto clutch = One<Clutch>([&](const Clutch& one) {
      return (one.holder == self_ || one.owner == self_) && !one.counts.empty();
    });
    if (!clutch) return Nothing();
    if (dice_.Once(8) && !clutch->parties.empty()) {
      return replica::WaiveShare(replica_, {.clutch = clutch->id,
                                            .party = self_,
                                            .receiver = dice_.Once(2) ? OtherKeeper() : KeeperId{}})
          .status();
    }
    return replica::RecordSplit(replica_, clutch->id).status();
  }

  absl::Status AboutLot() {
    const auto lot = One<Lot>([&](const Lot& one) {
      return one.slings > 0 && (one.owner == self_ || one.holder == self_ || one.receiver == self_);
    });
    if (!lot) return Nothing();
    if (lot->receiver == self_) {
      const std::uint32_t dead = dice_.Once(3) ? dice_.Roll(3) : 0;
      const std::uint32_t living = lot->slings > dead ? lot->slings - dead : 0;
      return replica::ReceiveSlings(
                 replica_,
                 {.parcel = lot->id, .slings_living = living, .slings_dead = dead, .day = ADay()})
          .status();
    }
    const std::uint32_t some = 1 + dice_.Roll(std::max<std::uint32_t>(lot->slings, 1) + 1);
    switch (dice_.Roll(7)) {
      case 0:
      case 1:
        return replica::SendSlings(replica_,
                                   {.lot = lot->id,
                                    .receiver = lot->owner == self_ ? OtherKeeper() : lot->owner,
                                    .slings = some,
                                    .day = ADay()})
            .status();
      case 2:
        return replica::LoseSlings(replica_, {.lot = lot->id, .slings = some, .day = ADay()})
            .status();
      case 3:
        return replica::PassSlings(
                   replica_,
                   {.lot = lot->id, .receiver = OtherKeeper(), .slings = some, .day = ADay()})
            .status();
      case 4:
        return replica::DivideLot(replica_, {.lot = lot->id, .slings = some, .day = ADay()})
            .status();
      case 5:
        return replica::ReturnSlings(replica_, {.lot = lot->id, .slings = some, .day = ADay()})
            .status();
      default:
        return replica::RaiseSling(
                   replica_,
                   {.lot = lot->id, .name = fmt::format("r{}", dice_.Roll(60)), .day = ADay()})
            .status();
    }
  }

  absl::Status AboutClash() {
    const auto clash = One<Clash>([&](const Clash& one) {
      return one.state == registry::ClashState::kOpen &&
             std::ranges::find(one.parties, self_) != one.parties.end();
    });
    if (!clash || dice_.Once(4)) {
      const auto clutch = OwnClutch();
      if (!clutch) return Nothing();
      facts::Objection objection{.clutch = clutch->id, .reason = "not so", .day = ADay()};
      if (!clutch->counts.empty() && dice_.Once(2)) {
        objection.count_token = clutch->counts.back().token;
      }
      return replica::ObjectTo(replica_, objection).status();
    }
    switch (dice_.Roll(3)) {
      case 0:
        return replica::WithdrawClash(replica_, clash->id, "sorry").status();
      case 1:
        return replica::SettleClash(replica_, {.clash = clash->id, .words = "as we agreed"})
            .status();
      default:
        return replica::SignSettlement(replica_, clash->id, Token{}).status();
    }
  }

  absl::Status Give() {
    const auto offered = One<Animal>(
        [&](const Animal& a) { return a.offer.has_value() && a.offer->receiver == self_; });
    if (offered && offered->offer && offered->offer->receiver == self_) {
      return replica::AcceptAnimal(replica_, offered->id).status();
    }
    const auto animal = OwnAnimal();
    if (!animal) return Nothing();
    return replica::GiveAnimal(replica_, animal->id, OtherKeeper()).status();
  }

  replica::Replica& replica_;
  Dice& dice_;
  const KeeperId self_;
};

}  // namespace

Deed DoSomething(replica::Replica& replica, Dice& dice) {
  return Doer(replica, dice).Do();
}

absl::Status FurnishWith(replica::Replica& replica, const std::string& prefix) {
  BP_ASSIGN_OR_RETURN(
      const replica::Made<GroupId> group,
      replica::EnterGroup(replica, {.name = prefix + "-group", .taxon = "Brachypelma hamorii"}));
  for (const facts::Sex sex : {facts::Sex::kMale, facts::Sex::kFemale, facts::Sex::kMale}) {
    const std::string name = fmt::format("{}{}", prefix, replica.undelivered().size());
    BP_RETURN_IF_ERROR(replica::EnterAnimal(replica, {.group = group.id,
                                                      .name = name,
                                                      .sex = sex,
                                                      .sex_method = facts::SexMethod::kAdultForm})
                           .status());
  }
  return absl::OkStatus();
}

}  // namespace broodpact::simulation
