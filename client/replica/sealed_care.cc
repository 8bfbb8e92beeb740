#include "client/replica/sealed_care.h"

#include <algorithm>
#include <map>
#include <optional>
#include <tuple>
#include <utility>

#include "client/base/status.h"
#include "client/registry/index.h"
#include "client/replica/internal/bulk.h"
#include "client/replica/internal/envelopes.h"
#include "client/replica/internal/sealing.h"

namespace broodpact::replica {
namespace {

// An envelope is 7 KiB at most, a commit 64.
constexpr std::size_t kNotesPerCommit = 8;
constexpr std::size_t kNotesPerCall = 64;
constexpr std::size_t kLoansMax = 10'000;

// States them, several a commit; where one of a commit cannot be stated, each by itself. Returns
// how many counted.
absl::StatusOr<std::size_t> StateEach(Replica& replica,
                                      const std::vector<facts::Statement>& statements) {
  std::size_t stated = 0;
  for (std::size_t i = 0; i < statements.size(); i += kNotesPerCommit) {
    const std::size_t end = std::min(statements.size(), i + kNotesPerCommit);
    const std::vector<facts::Statement> some(statements.begin() + static_cast<std::ptrdiff_t>(i),
                                             statements.begin() + static_cast<std::ptrdiff_t>(end));
    if (replica.Act(some).ok()) {
      stated += some.size();
      continue;
    }
    for (const facts::Statement& one : some) stated += replica.Act({one}).ok() ? 1U : 0U;
  }
  return stated;
}

// Whether this device may state something for its keeper.
absl::StatusOr<bool> IsAtWork(const Replica& replica) {
  if (replica.cooperative() == Hash{} || !replica.Refusal().ok()) return false;
  BP_ASSIGN_OR_RETURN(const auto device, registry::Read<registry::Device>(
                                             replica.view(), DeviceOf(replica.device_key())));
  return device && device->state == registry::DeviceState::kActive;
}

// The keys of this keeper's devices that a note is not sealed to yet.
std::vector<device::SealingPublicKey> Missing(const registry::SealedNote& note,
                                              const registry::SealedCopy& copy,
                                              std::vector<device::SealingPublicKey> keys) {
  for (const registry::SealedCopy* sealed : {&copy, &note.copies.front()}) {
    const auto recipients = device::RecipientsOf(sealed->sealed);
    if (!recipients.ok()) continue;
    std::erase_if(keys, [&](const device::SealingPublicKey& key) {
      return std::ranges::find(*recipients, device::IdOf(key)) != recipients->end();
    });
  }
  return keys;
}

// The note for further devices of this keeper; nothing where none lacks it, or this one cannot open
// it either.
std::optional<facts::Resealing> FurtherOf(const Replica& replica, const registry::SealedNote& note,
                                          const std::vector<device::SealingKey>& own,
                                          const std::vector<device::SealingPublicKey>& keys) {
  const KeeperId& self = replica.identity().keeper;
  const registry::SealedCopy* copy = registry::CopyFor(note, self);
  if (copy == nullptr) return std::nullopt;
  const std::vector<device::SealingPublicKey> missing = Missing(note, *copy, keys);
  if (missing.empty()) return std::nullopt;
  for (const Opener& opener : OpenersOf(note, self, own)) {
    absl::StatusOr<std::string> sealed =
        device::SealFurther(opener.copy->sealed, SealedPlaceOf(replica.cooperative(), note),
                            *opener.key, missing, replica.randomness());
    if (!sealed.ok()) continue;
    return facts::Resealing{
        .note = note.id, .copy_token = copy->token, .sealed = *std::move(sealed)};
  }
  return std::nullopt;
}

absl::StatusOr<std::size_t> Reseal(Replica& replica,
                                   const std::vector<registry::SealedNote>& notes) {
  BP_ASSIGN_OR_RETURN(const auto own, SealingKeysOf(replica));
  BP_ASSIGN_OR_RETURN(const auto keys,
                      SealingKeysOfKeeper(replica.view(), replica.identity().keeper));
  std::vector<facts::Statement> statements;
  for (const registry::SealedNote& note : notes) {
    if (statements.size() >= kNotesPerCall) break;
    if (IsEnded(note, replica.clock().Today())) continue;
    std::optional<facts::Resealing> further = FurtherOf(replica, note, own, keys);
    if (further) statements.emplace_back(*std::move(further));
  }
  return StateEach(replica, statements);
}

// Takes back own notes whose last day is past.
absl::StatusOr<std::size_t> EndPast(Replica& replica,
                                    const std::vector<registry::SealedNote>& notes) {
  std::map<std::tuple<facts::SealedSubject, IdBytes, facts::SealedField>, std::vector<SealedNoteId>>
      ended;
  for (const registry::SealedNote& note : notes) {
    const bool is_own = note.keeper == replica.identity().keeper;
    if (!is_own || !IsEnded(note, replica.clock().Today())) continue;
    ended[{note.subject_kind, note.subject, note.field}].push_back(note.id);
  }
  std::size_t count = 0;
  std::vector<facts::Statement> statements;
  for (const auto& [at, ids] : ended) {
    const auto& [kind, subject, field] = at;
    for (facts::Statement& taking :
         TakingBack(replica, {.kind = kind, .subject = subject, .field = field}, ids)) {
      statements.push_back(std::move(taking));
    }
    count += ids.size();
  }
  BP_ASSIGN_OR_RETURN(const std::size_t stated, StateEach(replica, statements));
  return stated == 0 ? 0 : count;
}

// The other party of a handover that this keeper has to do with, and the last day on which it needs
// the address; nothing where there is none.
std::optional<OpenedAddress> OtherPartyOf(const registry::Loan& loan, const KeeperId& self) {
  if (loan.state != registry::LoanState::kInForce) return std::nullopt;
  if (self != loan.lender && self != loan.borrower) return std::nullopt;
  Day since = DayOfMillis(loan.in_force_time_ms);
  if (loan.dispatch && loan.dispatch->latest > since) since = loan.dispatch->latest;
  return OpenedAddress{.keeper = self == loan.lender ? loan.borrower : loan.lender,
                       .until = Day{since.number + kAddressDays}};
}

// Whether notes to one reader say this text up to a day, and no other one: a further device may
// have opened what was so there.
bool SaySo(const Replica& replica, const std::vector<registry::SealedNote>& notes,
           const std::vector<device::SealingKey>& keys, const std::string& text, Day until) {
  bool is_open = false;
  for (const registry::SealedNote& note : notes) {
    if (IsEnded(note, replica.clock().Today())) continue;
    const absl::StatusOr<std::string> said = TextOf(replica, note, keys);
    if (!said.ok() || *said != text) return false;
    is_open = is_open || !note.until || *note.until >= until;
  }
  return is_open;
}

}  // namespace

absl::StatusOr<bool> StateSealingKey(Replica& replica) {
  BP_ASSIGN_OR_RETURN(const device::SealingKey own, OwnSealingKey(replica));
  BP_ASSIGN_OR_RETURN(const auto stated, registry::Read<registry::SealingKey>(
                                             replica.view(), DeviceOf(replica.device_key())));
  if (stated && stated->key == own.public_key().bytes) return false;
  BP_RETURN_IF_ERROR(replica.Act({facts::SealingKeyEntry{.key = own.public_key().bytes}}).status());
  return true;
}

absl::StatusOr<std::vector<OpenedAddress>> OpenAddresses(Replica& replica) {
  const registry::Source& source = replica.view();
  const KeeperId self = replica.identity().keeper;
  const SealedAt at{.kind = facts::SealedSubject::kKeeper,
                    .subject = self.bytes,
                    .field = facts::SealedField::kAddress};
  std::vector<OpenedAddress> opened;
  BP_ASSIGN_OR_RETURN(auto notes, NotesBehind(source, registry::SealedNotesAbout(self.bytes)));
  const std::vector<registry::SealedNote> own = OwnNotes(std::move(notes), self, at.field);
  std::vector<registry::SealedNote> for_nobody = own;
  std::erase_if(for_nobody, [](const registry::SealedNote& note) { return !note.readers.empty(); });
  const std::optional<std::string> text =
      TextToShare(replica, for_nobody).value_or(std::optional<std::string>());
  if (!text) return opened;  // none, or two that differ

  BP_ASSIGN_OR_RETURN(const std::vector<LoanId> ids,
                      IdsBehind<LoanId>(source, registry::LoansOfParty(self), kLoansMax));
  BP_ASSIGN_OR_RETURN(const auto loans, ReadMany<registry::Loan>(source, ids));
  BP_ASSIGN_OR_RETURN(const auto keys, SealingKeysOf(replica));
  std::map<KeeperId, Day> wanted;
  for (const registry::Loan& loan : loans) {
    const std::optional<OpenedAddress> other = OtherPartyOf(loan, self);
    if (!other || other->until < replica.clock().Today()) continue;
    Day& until = wanted.emplace(other->keeper, other->until).first->second;
    until = std::max(until, other->until);
  }
  for (const auto& [keeper, until] : wanted) {
    const Audience audience{.readers = {keeper}, .until = until};
    std::vector<registry::SealedNote> earlier = own;
    std::erase_if(earlier, [&, &reader = keeper](const registry::SealedNote& note) {
      return note.readers != std::vector<KeeperId>{reader};
    });
    if (SaySo(replica, earlier, keys, *text, until)) continue;
    // What this device could not read itself it would write again each time.
    if (!StateSealingKey(replica).ok()) continue;
    absl::StatusOr<facts::SealedEntry> entry = SealedEntryOf(replica, at, *text, audience);
    if (!entry.ok()) continue;  // it has no device to seal to yet
    entry->replaced = IdsOf(earlier);
    entry->replaced.resize(std::min<std::size_t>(entry->replaced.size(), facts::kNotesReplacedMax));
    if (!replica.Act({*std::move(entry)}).ok()) continue;
    opened.push_back({.keeper = keeper, .until = until});
  }
  return opened;
}

absl::StatusOr<SealedCare> CareForSealed(Replica& replica) {
  SealedCare care;
  BP_ASSIGN_OR_RETURN(const bool at_work, IsAtWork(replica));
  if (!at_work) return care;
  BP_ASSIGN_OR_RETURN(care.key_stated, StateSealingKey(replica));
  BP_ASSIGN_OR_RETURN(
      const auto notes,
      NotesBehind(replica.view(), registry::SealedNotesFor(replica.identity().keeper)));
  BP_ASSIGN_OR_RETURN(care.ended, EndPast(replica, notes));
  BP_ASSIGN_OR_RETURN(care.resealed, Reseal(replica, notes));
  BP_ASSIGN_OR_RETURN(care.addresses, OpenAddresses(replica));
  return care;
}

}  // namespace broodpact::replica
