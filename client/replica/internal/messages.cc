#include "client/replica/internal/messages.h"

#include <algorithm>

#include <fmt/format.h>

#include "client/base/hash.h"
#include "client/registry/interval.h"
#include "client/replica/internal/words.h"
#include "client/shares/split.h"

namespace broodpact::replica {
namespace {

std::uint32_t Narrow(std::uint64_t value) {
  return static_cast<std::uint32_t>(std::min<std::uint64_t>(value, 0xFFFF'FFFF));
}

std::string Text(std::string_view text) {
  return std::string(text);
}

}  // namespace

v1::Standing StandingOf(const registry::Layer* provisional, registry::Kind kind,
                        const IdBytes& id) {
  const bool covers = provisional != nullptr && provisional->Covers({kind, id});
  return covers ? v1::STANDING_PROVISIONAL : v1::STANDING_FINAL;
}

v1::Standing Messages::StandingOf(registry::Kind kind, const IdBytes& id) const {
  return replica::StandingOf(provisional_, kind, id);
}

v1::Keeper Messages::Of(const registry::Keeper& keeper) {
  v1::Keeper message;
  message.set_id(ToText(keeper.id));
  message.set_name(keeper.name);
  message.set_role(Text(RoleWord(keeper.role)));
  message.set_region(keeper.region);
  for (const DeviceId& id : keeper.devices) {
    v1::Device& device = *message.add_devices();
    device.set_id(ToText(id));
    if (const auto known = Find<registry::Device>(id)) device.set_public_key(ToHex(known->key));
  }
  message.set_standing(StandingOf(registry::Kind::kKeeper, keeper.id.bytes));
  return message;
}

v1::Group Messages::Of(const registry::Group& group) {
  v1::Group message;
  message.set_id(ToText(group.id));
  message.set_name(group.name);
  message.set_taxon(group.taxon);
  message.set_locality(group.locality);
  message.set_line(group.line);
  message.set_standing(StandingOf(registry::Kind::kGroup, group.id.bytes));
  return message;
}

v1::Animal Messages::Of(const registry::Animal& animal, Detail detail) {
  v1::Animal message;
  message.set_id(ToText(animal.id));
  message.set_name(animal.name);
  *message.mutable_group() = refs_.Ref(animal.group);
  *message.mutable_owner() = refs_.Ref(animal.owner);
  *message.mutable_holder() = refs_.Ref(animal.holder);
  message.set_sex(Text(SexWord(animal.sex)));
  message.set_hatching_day(DayText(animal.hatching));
  message.set_maturity_day(DayText(animal.maturity));
  message.set_death_day(DayText(animal.death));
  message.set_death_cause(animal.death_cause);
  if (!animal.sire.empty()) *message.mutable_sire() = refs_.Ref(animal.sire);
  if (!animal.dam.empty()) *message.mutable_dam() = refs_.Ref(animal.dam);
  if (!animal.clutch.empty()) *message.mutable_clutch() = refs_.Ref(animal.clutch);
  if (!animal.loan.empty()) *message.mutable_loan() = refs_.Ref(animal.loan);
  if (!animal.receiver.empty()) *message.mutable_receiver() = refs_.Ref(animal.receiver);
  for (const registry::MoultRecord& moult : animal.moults) {
    v1::MoultEvent& event = *message.add_moults();
    event.set_day(ToText(moult.day));
    event.set_moult_count(moult.moult_count);
  }
  for (const registry::SexRecord& claim : animal.sex_claims) {
    v1::SexEvent& event = *message.add_sex_claims();
    event.set_sex(Text(SexWord(claim.sex)));
    event.set_method(Text(MethodWord(claim.method)));
    event.set_day(ToText(claim.day));
    *event.mutable_keeper() = refs_.Ref(claim.entry.keeper);
  }
  if (detail == Detail::kWhole) {
    for (const PairingId& id : animal.pairings) {
      if (const auto pairing = Find<registry::Pairing>(id)) *message.add_pairings() = Of(*pairing);
    }
  }
  message.set_standing(StandingOf(registry::Kind::kAnimal, animal.id.bytes));
  return message;
}

void Messages::Fetch(const std::vector<registry::Animal>& animals) {
  using registry::Kind;
  std::vector<registry::SubjectKey> keys;
  for (const registry::Animal& animal : animals) {
    keys.push_back({Kind::kGroup, animal.group.bytes});
    keys.push_back({Kind::kKeeper, animal.owner.bytes});
    keys.push_back({Kind::kKeeper, animal.holder.bytes});
    keys.push_back({Kind::kKeeper, animal.receiver.bytes});
    keys.push_back({Kind::kAnimal, animal.sire.bytes});
    keys.push_back({Kind::kAnimal, animal.dam.bytes});
    keys.push_back({Kind::kClutch, animal.clutch.bytes});
    keys.push_back({Kind::kLoan, animal.loan.bytes});
  }
  refs_.Fetch(keys);
}

v1::Loan Messages::Of(const registry::Loan& loan) {
  v1::Loan message;
  message.set_id(ToText(loan.id));
  message.set_name(loan.name.empty() ? ToShortText(loan.id) : loan.name);
  *message.mutable_animal() = refs_.Ref(loan.animal);
  *message.mutable_lender() = refs_.Ref(loan.lender);
  *message.mutable_borrower() = refs_.Ref(loan.borrower);
  message.set_state(Text(LoanStateWord(loan.state)));
  message.set_agreement_digest(ToHex(loan.agreement_digest));
  const absl::StatusOr<facts::Agreement> agreement = facts::ParseAgreement(loan.agreement);
  if (agreement.ok()) {
    std::vector<std::string> names;
    for (const facts::Party& party : agreement->terms.parties) {
      names.push_back(refs_.Name(party.keeper));
      v1::LoanSigner& signer = *message.add_signers();
      *signer.mutable_keeper() = refs_.Ref(party.keeper);
      signer.set_role(Text(PartyRoleWord(party.role)));
      const auto signature =
          std::ranges::find(loan.signatures, party.keeper, &registry::SignatureRecord::keeper);
      if (signature != loan.signatures.end()) {
        signer.set_signature_time(InstantText(signature->entry.time_ms));
      }
    }
    for (std::string& clause : shares::Clauses(agreement->terms, names)) {
      message.add_clauses(std::move(clause));
    }
  }
  if (loan.return_day) message.set_return_day(ToText(*loan.return_day));
  if (const auto animal = Find<registry::Animal>(loan.animal)) {
    *message.mutable_holder() = refs_.Ref(animal->holder);
    const bool travels = animal->loan == loan.id && !animal->receiver.empty();
    if (travels) *message.mutable_receiver() = refs_.Ref(animal->receiver);
  }
  message.set_dispatch_day(DayText(loan.dispatch));
  message.set_receipt_day(DayText(loan.receipt));
  message.set_closure_day(DayText(loan.closure));
  message.set_reason(loan.reason);
  message.set_standing(StandingOf(registry::Kind::kLoan, loan.id.bytes));
  return message;
}

v1::Pairing Messages::Of(const registry::Pairing& pairing) {
  v1::Pairing message;
  message.set_id(ToText(pairing.id));
  *message.mutable_male() = refs_.Ref(pairing.male);
  *message.mutable_female() = refs_.Ref(pairing.female);
  message.set_day(ToText(pairing.day));
  message.set_outcome(Text(OutcomeWord(pairing.outcome)));
  if (!pairing.loan.empty()) *message.mutable_loan() = refs_.Ref(pairing.loan);
  message.set_standing(StandingOf(registry::Kind::kPairing, pairing.id.bytes));
  return message;
}

v1::Clutch Messages::Of(const registry::Clutch& clutch) {
  v1::Clutch message;
  message.set_id(ToText(clutch.id));
  message.set_name(clutch.name.empty() ? ToShortText(clutch.id) : clutch.name);
  *message.mutable_female() = refs_.Ref(clutch.female);
  message.set_laying_day(ToText(clutch.laying));
  message.set_pulling_day(DayText(clutch.pulling));
  message.set_loss_day(DayText(clutch.loss));
  message.set_loss_cause(clutch.loss_cause);
  message.set_state(Text(ClutchStateWord(clutch)));
  if (!clutch.loan.empty()) *message.mutable_loan() = refs_.Ref(clutch.loan);
  for (const AnimalId& sire : SiresOf(clutch)) *message.add_possible_sires() = refs_.Ref(sire);
  for (const registry::CountRecord& count : clutch.counts) {
    v1::CountEvent& event = *message.add_counts();
    event.set_day(ToText(count.day));
    event.set_slings_living(count.slings_living);
    event.set_slings_dead(count.slings_dead);
    event.set_moult_count(count.moult_count);
    *event.mutable_keeper() = refs_.Ref(count.entry.keeper);
    event.set_state(Text(CountStateWord(count.state)));
    event.set_token(BytesToHex(ViewOf(count.token.bytes)));
  }
  v1::Accounts& accounts = *message.mutable_accounts();
  accounts.set_slings_hatched(clutch.accounts.hatched);
  accounts.set_slings_living(clutch.accounts.undivided + clutch.accounts.in_lots);
  accounts.set_slings_dead(clutch.accounts.dead);
  accounts.set_slings_raised(clutch.accounts.raised);
  accounts.set_slings_unaccounted(clutch.accounts.unaccounted);
  for (const LotId& id : clutch.lots) {
    if (const auto lot = Find<registry::Lot>(id)) *message.add_lots() = Of(*lot);
  }
  for (std::string& warning : WarningsOf(clutch)) message.add_warnings(std::move(warning));
  message.set_standing(StandingOf(registry::Kind::kClutch, clutch.id.bytes));
  return message;
}

v1::Lot Messages::Of(const registry::Lot& lot) {
  v1::Lot message;
  message.set_id(ToText(lot.id));
  *message.mutable_clutch() = refs_.Ref(lot.clutch);
  *message.mutable_owner() = refs_.Ref(lot.owner);
  *message.mutable_holder() = refs_.Ref(lot.holder);
  message.set_slings(lot.slings);
  if (!lot.receiver.empty()) *message.mutable_receiver() = refs_.Ref(lot.receiver);
  message.set_standing(StandingOf(registry::Kind::kLot, lot.id.bytes));
  return message;
}

v1::Clash Messages::Of(const registry::Clash& clash) {
  v1::Clash message;
  message.set_id(ToText(clash.id));
  message.set_subject(fmt::format("{} {}", KindWord(clash.subject_kind),
                                  refs_.Name(clash.subject_kind, clash.subject)));
  message.set_message(clash.message);
  message.set_reason(clash.reason);
  for (const KeeperId& party : clash.parties) *message.add_parties() = refs_.Ref(party);
  message.set_loser_arrival(Narrow(clash.loser_arrival));
  message.set_winner_arrival(Narrow(clash.winner_arrival));
  message.set_standing(StandingOf(registry::Kind::kClash, clash.id.bytes));
  return message;
}

std::vector<AnimalId> Messages::SiresOf(const registry::Clutch& clutch) {
  const auto female = Find<registry::Animal>(clutch.female);
  if (!female) return {};
  std::vector<registry::Pairing> pairings;
  for (const PairingId& id : female->pairings) {
    if (const auto pairing = Find<registry::Pairing>(id)) pairings.push_back(*pairing);
  }
  return registry::PossibleSires(*female, clutch.laying, pairings);
}

std::vector<std::string> Messages::WarningsOf(const registry::Clutch& clutch) {
  std::vector<std::string> warnings;
  const std::vector<AnimalId> sires = SiresOf(clutch);
  if (sires.empty()) {
    warnings.emplace_back("no sire is known: no pairing since the mother's last moult before it");
  } else if (sires.size() > 1) {
    std::string names;
    for (const AnimalId& sire : sires) {
      names += (names.empty() ? "" : ", ") + refs_.Name(sire);
    }
    warnings.push_back(fmt::format("several males may be the sire: {}", names));
  }
  const auto rival =
      std::ranges::find(clutch.counts, registry::CountState::kRival, &registry::CountRecord::state);
  if (rival != clutch.counts.end()) {
    warnings.push_back(fmt::format("a second count of {} by {} waits for a choice",
                                   Slings(rival->slings_living), refs_.Name(rival->entry.keeper)));
  }
  const auto loan = Find<registry::Loan>(clutch.loan);
  if (!loan) return warnings;
  const Day signing = DayOfMillis(loan->in_force_time_ms);
  if (loan->in_force_time_ms != 0 && signing > clutch.laying.latest) {
    warnings.push_back(fmt::format("the agreement was signed on {}, after the sac was laid ({})",
                                   ToText(signing), ToText(clutch.laying)));
  }
  const absl::StatusOr<facts::Agreement> agreement = facts::ParseAgreement(loan->agreement);
  const std::uint32_t stage = agreement.ok() ? agreement->terms.counting_stage : 0;
  for (const registry::CountRecord& count : clutch.counts) {
    if (count.state != registry::CountState::kStanding) continue;
    if (stage != 0 && count.moult_count != 0 && count.moult_count != stage) {
      warnings.push_back(
          fmt::format("counted at moult {}, and agreed was moult {}", count.moult_count, stage));
    }
  }
  return warnings;
}

}  // namespace broodpact::replica
