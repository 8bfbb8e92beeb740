#include "client/replica/internal/envelopes.h"

#include <algorithm>
#include <filesystem>
#include <utility>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/registry/index.h"
#include "client/replica/internal/bulk.h"
#include "client/replica/internal/words.h"

namespace broodpact::replica {
namespace {

static_assert(facts::kEnvelopeBytesMax == device::kSealedBytesMax);

// Notes that are looked at for one answer.
constexpr std::size_t kNotesMax = 10'000;

// A key that cannot be exchanged with would spoil a text for all others: left out. It is no proper
// one for any secret, so it is tried with one that is no secret.
bool IsProper(const device::SealingPublicKey& key) {
  device::SecretBytes any;
  any.bytes().fill(1);
  return device::SealingKey(any).Exchange(key).has_value();
}

bool IsRecipient(const registry::SealedCopy& copy, const device::SealingKey& key) {
  const auto recipients = device::RecipientsOf(copy.sealed);
  return recipients.ok() && std::ranges::find(*recipients, key.id()) != recipients->end();
}

}  // namespace

absl::StatusOr<std::vector<device::SealingKey>> SealingKeysOf(const Replica& replica) {
  std::vector<device::SealingKey> keys;
  for (const std::filesystem::path& file : replica.home().sealing_key_files()) {
    BP_ASSIGN_OR_RETURN(device::SealingKey key, device::SealingKey::Load(file));
    keys.push_back(std::move(key));
  }
  return keys;
}

absl::StatusOr<device::SealingKey> OwnSealingKey(const Replica& replica) {
  const std::filesystem::path file =
      replica.home().sealing_key_file(DeviceOf(replica.device_key()));
  absl::StatusOr<device::SealingKey> known = device::SealingKey::Load(file);
  if (ReasonOf(known.status()) != "KEY_MISSING") return known;
  device::SealingKey fresh = device::SealingKey::Generate(replica.randomness());
  BP_RETURN_IF_ERROR(fresh.Save(file));
  return fresh;
}

device::SealedPlace SealedPlaceOf(const Hash& cooperative, const registry::SealedNote& note) {
  return {.cooperative = cooperative,
          .subject = note.subject,
          .field =
              fmt::format("{} {} {}", FieldWord(note.field), ToText(note.keeper), ToText(note.id))};
}

absl::StatusOr<std::vector<device::SealingPublicKey>> SealingKeysOfKeeper(
    const registry::Source& source, const KeeperId& id) {
  std::vector<device::SealingPublicKey> keys;
  BP_ASSIGN_OR_RETURN(const auto keeper, registry::Read<registry::Keeper>(source, id));
  if (!keeper) return keys;
  BP_ASSIGN_OR_RETURN(const auto devices, ReadMany<registry::Device>(source, keeper->devices));
  for (const registry::Device& device : devices) {
    if (device.state != registry::DeviceState::kActive) continue;
    BP_ASSIGN_OR_RETURN(const auto stated, registry::Read<registry::SealingKey>(source, device.id));
    if (!stated) continue;
    const device::SealingPublicKey key{stated->key};
    if (IsProper(key)) keys.push_back(key);
  }
  return keys;
}

std::vector<Opener> OpenersOf(const registry::SealedNote& note, const KeeperId& self,
                              const std::vector<device::SealingKey>& keys) {
  std::vector<Opener> openers;
  if (note.copies.empty()) return openers;
  for (const registry::SealedCopy* copy : {registry::CopyFor(note, self), &note.copies.front()}) {
    if (copy == nullptr) continue;
    for (const device::SealingKey& key : keys) {
      if (IsRecipient(*copy, key)) openers.push_back({.copy = copy, .key = &key});
    }
  }
  return openers;
}

absl::StatusOr<std::string> TextOf(const Replica& replica, const registry::SealedNote& note,
                                   const std::vector<device::SealingKey>& keys) {
  absl::StatusOr<std::string> text =
      Fail(absl::StatusCode::kPermissionDenied, "NOT_RECIPIENT", "it is not sealed to this device");
  for (const Opener& opener : OpenersOf(note, replica.identity().keeper, keys)) {
    text = device::OpenSealed(opener.copy->sealed, SealedPlaceOf(replica.cooperative(), note),
                              *opener.key);
    if (text.ok()) break;  // what a device of ours spoilt, the author's may open
  }
  return text;
}

absl::StatusOr<std::vector<registry::SealedNote>> NotesBehind(const registry::Source& source,
                                                              const std::string& prefix) {
  BP_ASSIGN_OR_RETURN(const std::vector<SealedNoteId> ids,
                      IdsBehind<SealedNoteId>(source, prefix, kNotesMax));
  return ReadMany<registry::SealedNote>(source, ids);
}

std::vector<registry::SealedNote> OwnNotes(std::vector<registry::SealedNote> notes,
                                           const KeeperId& self, facts::SealedField field) {
  std::erase_if(notes, [&](const registry::SealedNote& note) {
    return note.keeper != self || note.field != field;
  });
  return notes;
}

bool IsEnded(const registry::SealedNote& note, Day today) {
  return note.until.has_value() && *note.until < today;
}

}  // namespace broodpact::replica
