#include "client/replica/internal/sealing.h"

#include <algorithm>
#include <utility>

#include <fmt/format.h>

#include "client/replica/internal/envelopes.h"
#include "client/replica/internal/ref_book.h"

namespace broodpact::replica {
namespace {

absl::Status WithoutKey(const Replica& replica, const KeeperId& reader) {
  RefBook refs(replica.view());
  const std::string name = refs.Name(reader);
  return Fail(absl::StatusCode::kFailedPrecondition, "READER_WITHOUT_KEY",
              fmt::format("{} has no device yet that can be sealed to; it can once a device of {} "
                          "has synced with a program that knows sealed text, and this one has "
                          "synced after it",
                          name, name));
}

absl::Status Concurrent() {
  return Fail(absl::StatusCode::kFailedPrecondition, "NOTE_CONCURRENT",
              "two devices of yours wrote it at the same time, and differently; write it anew "
              "first (broodpact sealed write)");
}

}  // namespace

absl::StatusOr<facts::SealedEntry> SealedEntryOf(const Replica& replica, const SealedAt& at,
                                                 const std::string& text,
                                                 const Audience& audience) {
  const registry::Source& source = replica.view();
  registry::SealedNote note;  // as far as its place needs it
  note.id = device::FreshId<SealedNoteId>(replica.randomness());
  note.subject = at.subject;
  note.field = at.field;
  note.keeper = replica.identity().keeper;
  BP_ASSIGN_OR_RETURN(std::vector<device::SealingPublicKey> keys,
                      SealingKeysOfKeeper(source, note.keeper));
  for (const KeeperId& reader : audience.readers) {
    BP_ASSIGN_OR_RETURN(const auto theirs, SealingKeysOfKeeper(source, reader));
    if (theirs.empty()) return WithoutKey(replica, reader);
    keys.insert(keys.end(), theirs.begin(), theirs.end());
  }
  BP_ASSIGN_OR_RETURN(
      std::string sealed,
      device::Seal(text, SealedPlaceOf(replica.cooperative(), note), keys, replica.randomness()));
  return facts::SealedEntry{.note = note.id,
                            .kind = at.kind,
                            .subject = at.subject,
                            .field = at.field,
                            .sealed = std::move(sealed),
                            .readers = audience.readers,
                            .until = audience.until};
}

std::vector<facts::Statement> TakingBack(const Replica& replica, const SealedAt& at,
                                         const std::vector<SealedNoteId>& notes) {
  constexpr auto kEach = static_cast<std::size_t>(facts::kNotesReplacedMax);
  std::vector<facts::Statement> statements;
  for (std::size_t i = 0; i < notes.size(); i += kEach) {
    facts::SealedEntry entry{.note = device::FreshId<SealedNoteId>(replica.randomness()),
                             .kind = at.kind,
                             .subject = at.subject,
                             .field = at.field};
    const std::size_t end = std::min(notes.size(), i + kEach);
    for (std::size_t k = i; k < end; ++k) entry.replaced.push_back(notes[k]);
    statements.emplace_back(std::move(entry));
  }
  return statements;
}

absl::StatusOr<std::optional<std::string>> TextToShare(
    const Replica& replica, const std::vector<registry::SealedNote>& own) {
  BP_ASSIGN_OR_RETURN(const std::vector<device::SealingKey> keys, SealingKeysOf(replica));
  const bool has_private = std::ranges::any_of(
      own, [](const registry::SealedNote& note) { return note.readers.empty(); });
  std::optional<std::string> text;
  for (const registry::SealedNote& note : own) {
    if (has_private && !note.readers.empty()) continue;
    if (IsEnded(note, replica.clock().Today())) continue;
    absl::StatusOr<std::string> opened = TextOf(replica, note, keys);
    if (!opened.ok()) continue;
    if (text && *text != *opened) return Concurrent();
    text = *std::move(opened);
  }
  return text;
}

std::vector<SealedNoteId> IdsOf(const std::vector<registry::SealedNote>& notes) {
  std::vector<SealedNoteId> ids;
  ids.reserve(notes.size());
  for (const registry::SealedNote& note : notes) ids.push_back(note.id);
  return ids;
}

}  // namespace broodpact::replica
