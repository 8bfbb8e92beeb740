#include "client/facts/internal/build.h"

namespace broodpact::facts::internal {

// An older replica holds still what is leased: it cannot tell who may spend it.

void Build(const LeaseTaking& from, v1::Statement& to) {
  to.add_subject_ids(from.animal.empty() ? FieldOf(from.lot) : FieldOf(from.animal));
  v1::LeaseTaking& lease = *to.mutable_lease_taking();
  lease.set_lease_id(FieldOf(from.lease));
  lease.set_animal_id(FieldOf(from.animal));
  lease.set_owner_token(FieldOf(from.owner_token));
  lease.set_holder_token(FieldOf(from.holder_token));
  lease.set_lot_id(FieldOf(from.lot));
  lease.set_slings(from.slings);
  lease.set_until_day(from.until.number);
}

void Build(const LeaseRelease& from, v1::Statement& to) {
  to.add_subject_ids(from.animal.empty() ? FieldOf(from.lot) : FieldOf(from.animal));
  v1::LeaseRelease& release = *to.mutable_lease_release();
  release.set_lease_id(FieldOf(from.lease));
  release.set_animal_id(FieldOf(from.animal));
  release.set_lot_id(FieldOf(from.lot));
}

}  // namespace broodpact::facts::internal
