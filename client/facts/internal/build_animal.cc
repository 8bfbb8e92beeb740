#include "client/facts/internal/build.h"

namespace broodpact::facts::internal {

void Build(const GroupEntry& from, v1::Statement& to) {
  v1::GroupEntry& group = *to.mutable_group_entry();
  group.set_group_id(FieldOf(from.group));
  group.set_name(from.name);
  group.set_taxon(from.taxon);
  group.set_locality(from.locality);
  group.set_line(from.line);
}

void Build(const AnimalEntry& from, v1::Statement& to) {
  v1::AnimalEntry& animal = *to.mutable_animal_entry();
  animal.set_animal_id(FieldOf(from.animal));
  animal.set_group_id(FieldOf(from.group));
  animal.set_name(from.name);
  animal.set_sex(static_cast<v1::Sex>(from.sex));
  animal.set_sex_method(static_cast<v1::SexMethod>(from.sex_method));
  if (from.hatching) Build(*from.hatching, *animal.mutable_hatching());
  animal.set_sire_id(FieldOf(from.sire));
  animal.set_dam_id(FieldOf(from.dam));
  if (from.maturity) Build(*from.maturity, *animal.mutable_maturity());
}

void Build(const Moult& from, v1::Statement& to) {
  v1::Moult& moult = *to.mutable_moult();
  moult.set_animal_id(FieldOf(from.animal));
  Build(from.day, *moult.mutable_day());
  moult.set_moult_count(from.moult_count);
}

void Build(const Maturity& from, v1::Statement& to) {
  v1::Maturity& maturity = *to.mutable_maturity();
  maturity.set_animal_id(FieldOf(from.animal));
  Build(from.day, *maturity.mutable_day());
}

void Build(const SexClaim& from, v1::Statement& to) {
  v1::SexClaim& claim = *to.mutable_sex_claim();
  claim.set_animal_id(FieldOf(from.animal));
  claim.set_sex(static_cast<v1::Sex>(from.sex));
  claim.set_method(static_cast<v1::SexMethod>(from.method));
  Build(from.day, *claim.mutable_day());
}

void Build(const Death& from, v1::Statement& to) {
  v1::Death& death = *to.mutable_death();
  death.set_animal_id(FieldOf(from.animal));
  Build(from.day, *death.mutable_day());
  death.set_cause(from.cause);
}

void Build(const Gift& from, v1::Statement& to) {
  v1::Gift& gift = *to.mutable_gift();
  gift.set_animal_id(FieldOf(from.animal));
  gift.set_receiver_id(FieldOf(from.receiver));
  gift.set_owner_token(FieldOf(from.owner_token));
  gift.set_holder_token(FieldOf(from.holder_token));
  for (const LoanId& loan : from.due_loans) gift.add_due_loan_ids(FieldOf(loan));
}

}  // namespace broodpact::facts::internal
