#include "client/facts/internal/parse.h"

namespace broodpact::facts::internal {
namespace {

// A lease is of an animal or of a lot.
template <typename Lease>
void CheckSubject(const Lease& lease, Fields& fields) {
  if (lease.animal.empty() == lease.lot.empty()) {
    fields.Note(Fault::kForm, "subject", "must be an animal or a lot");
  }
}

}  // namespace

LeaseTaking Parse(const v1::LeaseTaking& from, Fields& fields) {
  fields.EnterKind("lease");
  LeaseTaking lease;
  lease.lease = fields.Required<LeaseId>("lease", from.lease_id());
  lease.animal = fields.Optional<AnimalId>("animal", from.animal_id());
  lease.owner_token = fields.Optional<Token>("ownership", from.owner_token());
  lease.holder_token = fields.Optional<Token>("holding", from.holder_token());
  lease.lot = fields.Optional<LotId>("lot", from.lot_id());
  lease.slings = fields.Slings("number of slings", from.slings(), lease.lot.empty() ? 0 : 1);
  v1::DaySpan until;
  until.set_earliest_day(from.until_day());
  until.set_latest_day(from.until_day());
  lease.until = fields.Span("last day", until).earliest;
  CheckSubject(lease, fields);
  const bool of_tokens = !lease.owner_token.empty() || !lease.holder_token.empty();
  if (of_tokens == lease.animal.empty()) {
    fields.Note(Fault::kForm, "ownership or holding", "goes with an animal, and only with one");
  }
  if (lease.lot.empty() && lease.slings != 0) {
    fields.Note(Fault::kForm, "number of slings", "goes with a lot only");
  }
  return lease;
}

LeaseRelease Parse(const v1::LeaseRelease& from, Fields& fields) {
  fields.EnterKind("end of a lease");
  LeaseRelease release;
  release.lease = fields.Required<LeaseId>("lease", from.lease_id());
  release.animal = fields.Optional<AnimalId>("animal", from.animal_id());
  release.lot = fields.Optional<LotId>("lot", from.lot_id());
  CheckSubject(release, fields);
  return release;
}

}  // namespace broodpact::facts::internal
