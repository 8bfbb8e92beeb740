#include "client/facts/internal/build.h"

namespace broodpact::facts::internal {

// An older replica holds notes still. Not the subject: it would refuse moults and loans of an
// animal for the sake of a text that it cannot read. Not the device of a key: it could not be
// revoked.

void Build(const SealingKeyEntry& from, v1::Statement& to) {
  to.mutable_sealing_key_entry()->set_sealing_key(FieldOf(from.key));
}

void Build(const SealedEntry& from, v1::Statement& to) {
  to.add_subject_ids(FieldOf(from.note));
  v1::SealedEntry& entry = *to.mutable_sealed_entry();
  entry.set_note_id(FieldOf(from.note));
  entry.set_subject(static_cast<v1::SealedSubject>(from.kind));
  entry.set_subject_id(FieldOf(from.subject));
  entry.set_field(static_cast<v1::SealedField>(from.field));
  entry.set_sealed(from.sealed);
  for (const SealedNoteId& note : from.replaced) entry.add_replaced_note_ids(FieldOf(note));
  for (const KeeperId& reader : from.readers) entry.add_reader_ids(FieldOf(reader));
  if (from.until) entry.set_until_day(from.until->number);
}

void Build(const Resealing& from, v1::Statement& to) {
  to.add_subject_ids(FieldOf(from.note));
  v1::Resealing& resealing = *to.mutable_resealing();
  resealing.set_note_id(FieldOf(from.note));
  resealing.set_copy_token(FieldOf(from.copy_token));
  resealing.set_sealed(from.sealed);
}

}  // namespace broodpact::facts::internal
