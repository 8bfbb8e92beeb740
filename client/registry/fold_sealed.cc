// Sealed text: SealingKeyEntry, SealedEntry, Resealing. They promise nothing and spend nothing;
// what is in an envelope, and whether it opens, is no matter of the fold.

#include <algorithm>
#include <string_view>

#include "fmt/core.h"

#include "client/registry/internal/rules.h"

namespace broodpact::registry {
namespace {

using facts::SealedField;
using facts::SealedSubject;

// Which fields a kind of subject has.
bool HasField(SealedSubject subject, SealedField field) {
  switch (subject) {
    case SealedSubject::kUnspecified:
      return false;
    case SealedSubject::kAnimal:
      return field != SealedField::kAddress;
    case SealedSubject::kGroup:
      return field == SealedField::kLocality;
    case SealedSubject::kKeeper:
      return field == SealedField::kAddress || field == SealedField::kNote;
    case SealedSubject::kLoan:
    case SealedSubject::kClutch:
      return field == SealedField::kPrice || field == SealedField::kNote;
  }
  return false;
}

Finding NotYours(std::string_view who) {
  return Void("NOT_YOURS_TO_SEAL", fmt::format("that is written by {}, and not by you", who));
}

Finding CheckOwned(Case& c, const KeeperId& owner, const KeeperId& holder, SealedField field) {
  if (ActsFor(c, owner)) return std::nullopt;
  if (field == SealedField::kNote && ActsFor(c, holder)) return std::nullopt;
  return NotYours(field == SealedField::kNote ? "its owner or holder" : "its owner");
}

Finding CheckAuthorOf(Case& c, const facts::SealedEntry& s) {
  switch (s.kind) {
    case SealedSubject::kUnspecified:
      break;
    case SealedSubject::kAnimal: {
      const Animal* animal = c.state.Find<Animal>(s.subject);
      if (animal == nullptr) return UnknownSubject("animal", s.subject);
      return CheckOwned(c, animal->owner, animal->holder, s.field);
    }
    case SealedSubject::kGroup: {
      const Group* group = c.state.Find<Group>(s.subject);
      if (group == nullptr) return UnknownSubject("group", s.subject);
      if (ActsFor(c, group->entry.keeper)) return std::nullopt;
      return NotYours("who entered the group");
    }
    case SealedSubject::kKeeper: {
      if (c.state.Find<Keeper>(s.subject) == nullptr) return UnknownSubject("keeper", s.subject);
      if (c.author().bytes == s.subject) return std::nullopt;
      return NotYours("that keeper");
    }
    case SealedSubject::kLoan: {
      const Loan* loan = c.state.Find<Loan>(s.subject);
      if (loan == nullptr) return UnknownSubject("loan", s.subject);
      const bool is_party = std::any_of(loan->parties.begin(), loan->parties.end(),
                                        [&](const KeeperId& party) { return ActsFor(c, party); });
      return is_party ? std::nullopt : NotYours("a party of the loan");
    }
    case SealedSubject::kClutch: {
      const Clutch* clutch = c.state.Find<Clutch>(s.subject);
      if (clutch == nullptr) return UnknownSubject("clutch", s.subject);
      return CheckOwned(c, clutch->owner, clutch->holder, s.field);
    }
  }
  return std::nullopt;
}

// A note that another one replaces is of the same author, for the same field of the same subject.
Finding CheckReplaced(Case& c, const facts::SealedEntry& s) {
  for (const SealedNoteId& id : s.replaced) {
    const SealedNote* note = c.state.Find<SealedNote>(id);
    if (note == nullptr) return UnknownSubject("sealed note", id.bytes);
    if (note->keeper != c.author()) {
      return Void("NOT_YOUR_NOTE",
                  fmt::format("that note is {}'s, not yours", NameOf(c, note->keeper)));
    }
    if (note->subject != s.subject || note->field != s.field) {
      return Refused("NOTE_OTHER", "a note replaces one about the same field of the same subject");
    }
  }
  return std::nullopt;
}

// Ends what is replaced. Returns whether some of it was replaced by something else before.
bool EndReplaced(Case& c, const facts::SealedEntry& s) {
  bool concurrent = false;
  for (const SealedNoteId& id : s.replaced) {
    if (Known<SealedNote>(c, id).state != NoteState::kStanding) {
      concurrent = true;
      continue;
    }
    SealedNote& note = c.state.Edit<SealedNote>(id);
    note.state = s.sealed.empty() ? NoteState::kTakenBack : NoteState::kReplaced;
    note.copies.clear();
    note.ended = c.entry;
  }
  return concurrent;
}

}  // namespace

bool IsFor(const SealedNote& note, const KeeperId& keeper) {
  return note.keeper == keeper ||
         std::find(note.readers.begin(), note.readers.end(), keeper) != note.readers.end();
}

const SealedCopy* CopyFor(const SealedNote& note, const KeeperId& keeper) {
  if (!IsFor(note, keeper) || note.copies.empty()) return nullptr;
  const auto own = std::find_if(note.copies.begin(), note.copies.end(),
                                [&](const SealedCopy& copy) { return copy.keeper == keeper; });
  return own != note.copies.end() ? &*own : &note.copies.front();
}

Finding Apply(Case& c, const facts::SealingKeyEntry& s) {
  const DeviceId id = c.arrived.commit.header.device;
  // What a revocation awaits, and what is adopted, still counts; nobody seals to the device.
  if (Known<Device>(c, id).state != DeviceState::kActive) return std::nullopt;
  const bool is_new = c.state.Find<SealingKey>(id) == nullptr;
  SealingKey& key = is_new ? c.state.Create<SealingKey>(id) : c.state.Edit<SealingKey>(id);
  key.key = s.key;
  key.entry = c.entry;
  return std::nullopt;
}

Finding Apply(Case& c, const facts::SealedEntry& s) {
  if (c.state.Find<SealedNote>(s.note) != nullptr) return IdTaken("sealed note", s.note.bytes);
  if (!HasField(s.kind, s.field)) {
    return Refused("FIELD_OTHER", "what it is about has no such field");
  }
  if (Finding f = CheckAuthorOf(c, s)) return f;
  if (Finding f = CheckReplaced(c, s)) return f;
  for (const KeeperId& reader : s.readers) {
    if (!IsKeeper(c, reader)) return UnknownSubject("keeper", reader.bytes);
  }
  const bool concurrent = EndReplaced(c, s);
  if (s.sealed.empty()) return std::nullopt;
  SealedNote& note = c.state.Create<SealedNote>(s.note);
  note.subject_kind = s.kind;
  note.subject = s.subject;
  note.field = s.field;
  note.keeper = c.author();
  note.readers = s.readers;
  note.until = s.until;
  note.copies.push_back({.keeper = c.author(), .token = c.token, .sealed = s.sealed});
  note.concurrent = concurrent;
  note.entry = c.entry;
  if (concurrent) {
    Flag(c, "FLAG_NOTE_CONCURRENT",
         "what it replaces was replaced before; both are shown until you write it anew");
  }
  return std::nullopt;
}

Finding Apply(Case& c, const facts::Resealing& s) {
  const SealedNote* note = c.state.Find<SealedNote>(s.note);
  if (note == nullptr) return UnknownSubject("sealed note", s.note.bytes);
  if (!IsFor(*note, c.author())) {
    return Void("NOT_READER", "that note is not for you, so it is not yours to seal further");
  }
  const SealedCopy* from = CopyFor(*note, c.author());
  if (from == nullptr || from->token != s.copy_token) {
    Flag(c, "FLAG_RESEALED_BEFORE",
         "the note was sealed further, or replaced, before; this changes nothing");
    return std::nullopt;
  }
  std::vector<SealedCopy>& copies = c.state.Edit<SealedNote>(s.note).copies;
  const auto own = std::find_if(copies.begin(), copies.end(),
                                [&](const SealedCopy& copy) { return copy.keeper == c.author(); });
  SealedCopy& copy = own != copies.end() ? *own : copies.emplace_back();
  copy = {.keeper = c.author(), .token = c.token, .sealed = s.sealed};
  return std::nullopt;
}

}  // namespace broodpact::registry
