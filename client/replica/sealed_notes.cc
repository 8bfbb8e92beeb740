#include "client/replica/sealed_notes.h"

#include <algorithm>
#include <set>
#include <string>
#include <tuple>
#include <utility>
#include <vector>

#include "client/base/status.h"
#include "client/registry/index.h"
#include "client/replica/internal/envelopes.h"
#include "client/replica/internal/messages.h"
#include "client/replica/internal/ref_book.h"
#include "client/replica/internal/words.h"

namespace broodpact::replica {
namespace {

// Whether another note says the same for the same readers: two devices wrote at the same time.
bool HasRival(const registry::SealedNote& note, const std::vector<registry::SealedNote>& notes) {
  return std::ranges::any_of(notes, [&](const registry::SealedNote& other) {
    return other.id != note.id && other.subject == note.subject && other.field == note.field &&
           other.keeper == note.keeper && other.readers == note.readers;
  });
}

// The state of a note, and its text where it is open.
void WriteText(const Replica& replica, const registry::SealedNote& note,
               const std::vector<device::SealingKey>& keys, Texts texts, v1::SealedNote& message) {
  if (IsEnded(note, replica.clock().Today())) {
    message.set_state("ended");
    return;
  }
  absl::StatusOr<std::string> text = TextOf(replica, note, keys);
  if (!text.ok()) {
    message.set_state(ReasonOf(text.status()) == "NOT_RECIPIENT" ? "closed" : "damaged");
    return;
  }
  message.set_state("open");
  if (texts == Texts::kShown) message.set_text(*std::move(text));
}

// Leaves out what is closed here where the same keeper's note about the same field is open: an
// address that was opened for a loan stands beside the one that it was written as.
void LeaveOutWhatIsOpenBeside(v1::SealedNoteList& list) {
  const auto place = [](const v1::SealedNote& note) {
    return std::tuple(note.subject().id(), note.field(), note.keeper().id());
  };
  std::set<std::tuple<std::string, std::string, std::string>> open;
  for (const v1::SealedNote& note : list.notes()) {
    if (note.state() == "open") open.insert(place(note));
  }
  auto* const notes = list.mutable_notes();
  notes->erase(std::remove_if(notes->begin(), notes->end(),
                              [&](const v1::SealedNote& note) {
                                return note.state() == "closed" && open.contains(place(note));
                              }),
               notes->end());
}

}  // namespace

absl::StatusOr<v1::SealedNoteList> SealedNotes(const Replica& replica,
                                               const std::optional<IdBytes>& subject, Texts texts) {
  const registry::Layer& source = replica.view();
  const std::string prefix = subject ? registry::SealedNotesAbout(*subject)
                                     : registry::SealedNotesFor(replica.identity().keeper);
  BP_ASSIGN_OR_RETURN(const std::vector<registry::SealedNote> notes, NotesBehind(source, prefix));
  BP_ASSIGN_OR_RETURN(const std::vector<device::SealingKey> keys, SealingKeysOf(replica));
  RefBook refs(source);
  v1::SealedNoteList list;
  for (const registry::SealedNote& note : notes) {
    const registry::Kind kind = registry::KindOf(note.subject_kind);
    v1::SealedNote& message = *list.add_notes();
    message.set_id(ToText(note.id));
    message.set_subject_kind(std::string(KindWord(kind)));
    message.mutable_subject()->set_id(IdText(note.subject));
    message.mutable_subject()->set_name(refs.Name(kind, note.subject));
    message.set_field(std::string(FieldWord(note.field)));
    *message.mutable_keeper() = refs.Ref(note.keeper);
    for (const KeeperId& reader : note.readers) *message.add_readers() = refs.Ref(reader);
    if (note.until) message.set_until_day(ToText(*note.until));
    message.set_entered(ToText(DayOfMillis(note.entry.time_ms)));
    message.set_concurrent(HasRival(note, notes));
    message.set_standing(StandingOf(&source, registry::Kind::kSealedNote, note.id.bytes));
    WriteText(replica, note, keys, texts, message);
  }
  LeaveOutWhatIsOpenBeside(list);
  std::sort(list.mutable_notes()->begin(), list.mutable_notes()->end(),
            [](const v1::SealedNote& a, const v1::SealedNote& b) {
              const auto key = [](const v1::SealedNote& note) {
                return std::tie(note.subject_kind(), note.subject().name(), note.field(),
                                note.keeper().name(), note.id());
              };
              return key(a) < key(b);
            });
  BP_RETURN_IF_ERROR(refs.status());
  return list;
}

}  // namespace broodpact::replica
