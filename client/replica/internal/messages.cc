#include "client/replica/internal/messages.h"

#include <algorithm>

#include <fmt/format.h>

#include "client/base/hash.h"
#include "client/replica/internal/mating.h"
#include "client/replica/internal/words.h"
#include "client/shares/split.h"

namespace broodpact::replica {
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
  message.set_role(std::string(RoleWord(keeper.role)));
  message.set_region(keeper.region);
  for (const DeviceId& id : keeper.devices) {
    if (const auto device = Find<registry::Device>(id)) *message.add_devices() = Of(*device);
  }
  if (!keeper.successor.empty()) *message.mutable_successor() = refs_.Ref(keeper.successor);
  if (keeper.has_left) message.set_left_time(InstantText(keeper.left.time_ms));
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
  // Only the last accepted name is in use.
  const auto is_accepted = [](const registry::NameRecord& name) {
    return name.status == facts::NameStatus::kAccepted;
  };
  auto accepted = std::ranges::count_if(group.names, is_accepted);
  for (const registry::NameRecord& name : group.names) {
    v1::GroupName& use = *message.add_names();
    use.set_name(name.name);
    use.set_status(std::string(NameStatusWord(name.status)));
    if (is_accepted(name) && --accepted > 0) use.set_status("formerly accepted");
    use.set_since_day(DayText(name.since));
    use.set_source(name.source);
    *use.mutable_keeper() = refs_.Ref(name.entry.keeper);
  }
  if (!group.successor.empty()) *message.mutable_successor() = refs_.Ref(group.successor);
  message.set_closure_reason(group.closure_reason);
  for (const registry::FounderRecord& record : group.founder_kinships) {
    v1::GroupFounders& founders = *message.add_founder_kinships();
    founders.set_kinship(FractionText(record.numerator, record.denominator));
    founders.set_reason(record.reason);
    *founders.mutable_keeper() = refs_.Ref(record.entry.keeper);
  }
  return message;
}

v1::Animal Messages::Of(const registry::Animal& animal, Detail detail) {
  v1::Animal message;
  message.set_id(ToText(animal.id));
  message.set_name(animal.name);
  *message.mutable_group() = refs_.Ref(animal.group);
  *message.mutable_owner() = refs_.Ref(animal.owner);
  *message.mutable_holder() = refs_.Ref(animal.holder);
  message.set_sex(std::string(SexWord(animal.sex)));
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
    event.set_sex(std::string(SexWord(claim.sex)));
    event.set_method(std::string(MethodWord(claim.method)));
    event.set_day(ToText(claim.day));
    *event.mutable_keeper() = refs_.Ref(claim.entry.keeper);
  }
  if (detail == Detail::kWhole) {
    for (const PairingId& id : animal.pairings) {
      if (const auto pairing = Find<registry::Pairing>(id)) *message.add_pairings() = Of(*pairing);
    }
    AddDues(animal, message);
  }
  if (animal.offer) *message.mutable_offered() = refs_.Ref(animal.offer->receiver);
  message.set_hybrid(animal.hybrid);
  for (const registry::GroupRecord& past : animal.past_groups) {
    v1::GroupStay& stay = *message.add_past_groups();
    *stay.mutable_group() = refs_.Ref(past.group);
    stay.set_until_time(InstantText(past.entry.time_ms));
    stay.set_reason(past.reason);
    *stay.mutable_keeper() = refs_.Ref(past.entry.keeper);
  }
  for (const registry::Lease& lease : animal.leases) *message.add_leases() = Of(lease);
  message.set_standing(StandingOf(registry::Kind::kAnimal, animal.id.bytes));
  return message;
}

v1::RunningDue Messages::DueOf(const registry::Loan& loan, const KeeperId& party,
                               const KeeperId& keeper) {
  v1::RunningDue message;
  *message.mutable_loan() = refs_.Ref(loan.id);
  *message.mutable_keeper() = refs_.Ref(keeper);
  *message.mutable_party() = refs_.Ref(party);
  for (const KeeperId& other : loan.parties) {
    if (other != party) *message.add_claimants() = refs_.Ref(other);
  }
  return message;
}

void Messages::AddDues(const registry::Animal& animal, v1::Animal& message) {
  const absl::StatusOr<registry::Mating> mating = MatingOf(source_, animal);
  if (!mating.ok()) {
    if (status_.ok()) status_ = mating.status();
    return;
  }
  for (const LoanId& id : registry::DuesOf(animal, *mating)) {
    const auto loan = Find<registry::Loan>(id);
    if (!loan) continue;
    *message.add_dues() = DueOf(*loan, registry::SeatOf(animal, *loan, animal.owner), animal.owner);
  }
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

v1::Pairing Messages::Of(const registry::Pairing& pairing) {
  v1::Pairing message;
  message.set_id(ToText(pairing.id));
  *message.mutable_male() = refs_.Ref(pairing.male);
  *message.mutable_female() = refs_.Ref(pairing.female);
  message.set_day(ToText(pairing.day));
  message.set_outcome(std::string(OutcomeWord(pairing.outcome)));
  if (!pairing.loan.empty()) *message.mutable_loan() = refs_.Ref(pairing.loan);
  message.set_hybrid(pairing.hybrid);
  message.set_claimed(pairing.claimed);
  message.set_standing(StandingOf(registry::Kind::kPairing, pairing.id.bytes));
  return message;
}

}  // namespace broodpact::replica
