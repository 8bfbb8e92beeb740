#include "client/replica/acts_sealed.h"

#include <algorithm>
#include <set>
#include <utility>

#include <fmt/format.h>

#include "client/device/seal.h"
#include "client/registry/index.h"
#include "client/replica/internal/envelopes.h"
#include "client/replica/internal/sealing.h"
#include "client/replica/sealed_care.h"

namespace broodpact::replica {
namespace {

absl::StatusOr<std::vector<registry::SealedNote>> OwnNotesAt(const Replica& replica,
                                                             const SealedAt& at) {
  BP_ASSIGN_OR_RETURN(auto notes,
                      NotesBehind(replica.view(), registry::SealedNotesAbout(at.subject)));
  return OwnNotes(std::move(notes), replica.identity().keeper, at.field);
}

// The readers of a price are the parties of its loan too; nobody is named twice, and not the
// author.
absl::StatusOr<std::vector<KeeperId>> ReadersOf(const Replica& replica, const SealedAt& at,
                                                std::vector<KeeperId> readers) {
  if (std::ranges::find(readers, replica.identity().keeper) != readers.end()) {
    return Fail(absl::StatusCode::kInvalidArgument, "READER_ITSELF",
                "what you seal is for your own devices anyway; name others, or nobody");
  }
  if (at.kind == facts::SealedSubject::kLoan && at.field == facts::SealedField::kPrice) {
    BP_ASSIGN_OR_RETURN(const auto loan,
                        Known<registry::Loan>(replica, LoanId{at.subject}, "loan"));
    readers.insert(readers.end(), loan.parties.begin(), loan.parties.end());
  }
  std::erase(readers, replica.identity().keeper);
  std::ranges::sort(readers);
  const auto twice = std::ranges::unique(readers);
  readers.erase(twice.begin(), twice.end());
  return readers;
}

absl::Status CheckUntil(const Replica& replica, const std::optional<Day>& until) {
  if (!until || *until >= replica.clock().Today()) return absl::OkStatus();
  return Fail(absl::StatusCode::kInvalidArgument, "DATE_PAST",
              fmt::format("{} is past; name a later day, or none", ToText(*until)));
}

absl::StatusOr<Made<SealedNoteId>> Write(Replica& replica, const SealedAt& at,
                                         const std::string& text, const Audience& audience,
                                         std::vector<SealedNoteId> replaced) {
  BP_RETURN_IF_ERROR(CheckUntil(replica, audience.until));
  BP_RETURN_IF_ERROR(StateSealingKey(replica).status());
  constexpr auto kMost = static_cast<std::size_t>(facts::kNotesReplacedMax);
  std::vector<SealedNoteId> rest;
  if (replaced.size() > kMost) rest.assign(replaced.begin() + kMost, replaced.end());
  replaced.resize(std::min(replaced.size(), kMost));
  BP_ASSIGN_OR_RETURN(facts::SealedEntry entry, SealedEntryOf(replica, at, text, audience));
  entry.replaced = std::move(replaced);
  const SealedNoteId id = entry.note;
  std::vector<facts::Statement> statements = TakingBack(replica, at, rest);
  statements.emplace_back(std::move(entry));
  BP_ASSIGN_OR_RETURN(Acted acted, replica.Act(statements));
  return Made<SealedNoteId>{.id = id, .acted = std::move(acted)};
}

// Whether every device of a note's readers that may read it now has it: then it need not be sealed
// to them once more.
absl::StatusOr<bool> HasAllDevices(const Replica& replica, const registry::SealedNote& note) {
  std::set<device::SealingKeyId> sealed;
  for (const registry::SealedCopy& copy : note.copies) {
    const auto recipients = device::RecipientsOf(copy.sealed);
    if (recipients.ok()) sealed.insert(recipients->begin(), recipients->end());
  }
  for (const KeeperId& reader : note.readers) {
    BP_ASSIGN_OR_RETURN(const auto keys, SealingKeysOfKeeper(replica.view(), reader));
    for (const device::SealingPublicKey& key : keys) {
      if (!sealed.contains(device::IdOf(key))) return false;
    }
  }
  return true;
}

// Whether a note says this text to its readers, for as long as `until`.
absl::StatusOr<bool> Says(const Replica& replica, const registry::SealedNote& note,
                          const std::string& text, const std::optional<Day>& until) {
  if (note.until != until) return false;
  BP_ASSIGN_OR_RETURN(const auto keys, SealingKeysOf(replica));
  const absl::StatusOr<std::string> said = TextOf(replica, note, keys);
  if (!said.ok() || *said != text) return false;
  return HasAllDevices(replica, note);
}

absl::Status NoNote() {
  return Fail(absl::StatusCode::kNotFound, "NO_NOTE",
              "there is nothing of yours there; broodpact sealed list shows what there is");
}

}  // namespace

absl::StatusOr<Made<SealedNoteId>> WriteSealed(Replica& replica, const SealedAt& at,
                                               const std::string& text, const Audience& audience) {
  if (text.empty()) {
    return Fail(absl::StatusCode::kInvalidArgument, "TEXT_EMPTY",
                "there is no text to seal; broodpact sealed withdraw takes back what is there");
  }
  BP_ASSIGN_OR_RETURN(std::vector<KeeperId> readers, ReadersOf(replica, at, audience.readers));
  BP_ASSIGN_OR_RETURN(const auto own, OwnNotesAt(replica, at));
  return Write(replica, at, text, {.readers = std::move(readers), .until = audience.until},
               IdsOf(own));
}

absl::StatusOr<Made<SealedNoteId>> ShareSealed(Replica& replica, const SealedAt& at,
                                               const Audience& audience) {
  BP_ASSIGN_OR_RETURN(std::vector<KeeperId> readers, ReadersOf(replica, at, audience.readers));
  BP_ASSIGN_OR_RETURN(std::vector<registry::SealedNote> own, OwnNotesAt(replica, at));
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> text, TextToShare(replica, own));
  if (!text) return NoNote();
  std::erase_if(own, [&](const registry::SealedNote& note) { return note.readers != readers; });
  for (const registry::SealedNote& note : own) {
    BP_ASSIGN_OR_RETURN(const bool says, Says(replica, note, *text, audience.until));
    if (!says) continue;
    return Fail(absl::StatusCode::kAlreadyExists, "ALREADY_SHARED",
                "it is sealed to them already, in just these words; nothing was recorded");
  }
  return Write(replica, at, *text, {.readers = std::move(readers), .until = audience.until},
               IdsOf(own));
}

absl::StatusOr<Acted> TakeSealedBack(Replica& replica, const SealedAt& at) {
  BP_ASSIGN_OR_RETURN(const auto own, OwnNotesAt(replica, at));
  if (own.empty()) return NoNote();
  return replica.Act(TakingBack(replica, at, IdsOf(own)));
}

}  // namespace broodpact::replica
