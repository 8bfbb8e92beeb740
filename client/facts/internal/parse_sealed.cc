#include "client/facts/internal/parse.h"

namespace broodpact::facts::internal {
namespace {

// An envelope of at least one byte.
std::string Envelope(const std::string& bytes, Fields& fields) {
  if (bytes.empty()) fields.Missing("envelope");
  if (bytes.size() > kEnvelopeBytesMax) {
    fields.Note(Fault::kForm, "envelope", "is longer than any envelope can be");
    return {};
  }
  return bytes;
}

template <typename AnyId, typename Repeated>
std::vector<AnyId> Ids(std::string_view what, const Repeated& from, int count_max, Fields& fields) {
  std::vector<AnyId> ids;
  if (from.size() > count_max) {
    fields.Note(Fault::kForm, what, "is named more often than allowed");
    return ids;
  }
  ids.reserve(static_cast<std::size_t>(from.size()));
  for (const std::string& bytes : from) ids.push_back(fields.Required<AnyId>(what, bytes));
  return ids;
}

}  // namespace

SealingKeyEntry Parse(const v1::SealingKeyEntry& from, Fields& fields) {
  fields.EnterKind("sealing key");
  return {.key = fields.Fixed<SealingKeyBytes>("key", from.sealing_key())};
}

SealedEntry Parse(const v1::SealedEntry& from, Fields& fields) {
  fields.EnterKind("sealed note");
  SealedEntry entry;
  entry.note = fields.Required<SealedNoteId>("note", from.note_id());
  entry.kind = fields.OneOf("kind of subject", from.subject(), SealedSubject::kClutch);
  if (entry.kind == SealedSubject::kUnspecified) fields.Missing("kind of subject");
  entry.subject = fields.Fixed<IdBytes>("subject", from.subject_id());
  entry.field = fields.OneOf("field", from.field(), SealedField::kNote);
  if (entry.field == SealedField::kUnspecified) fields.Missing("field");
  entry.replaced = Ids<SealedNoteId>("note that is replaced", from.replaced_note_ids(),
                                     kNotesReplacedMax, fields);
  entry.readers = Ids<KeeperId>("reader", from.reader_ids(), kReadersMax, fields);
  const bool takes_back = from.sealed().empty() && !entry.replaced.empty();
  if (!takes_back) entry.sealed = Envelope(from.sealed(), fields);
  if (from.has_until_day()) {
    v1::DaySpan until;
    until.set_earliest_day(from.until_day());
    until.set_latest_day(from.until_day());
    entry.until = fields.Span("last day", until).earliest;
  }
  return entry;
}

Resealing Parse(const v1::Resealing& from, Fields& fields) {
  fields.EnterKind("resealing");
  return {.note = fields.Required<SealedNoteId>("note", from.note_id()),
          .copy_token = fields.Required<Token>("envelope that it was made from", from.copy_token()),
          .sealed = Envelope(from.sealed(), fields)};
}

}  // namespace broodpact::facts::internal
