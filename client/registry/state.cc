#include "client/registry/state.h"

#include <algorithm>
#include <deque>
#include <iterator>
#include <utility>

#include "absl/container/flat_hash_map.h"

#include "client/base/check.h"
#include "client/registry/index.h"
#include "client/registry/internal/instances.h"
#include "client/registry/internal/slot.h"

namespace broodpact::registry {
namespace {

// Hashed over all of the id, with a seed of the process: ids come from strangers.
struct KeyHash {
  std::size_t operator()(const SubjectKey& key) const {
    return absl::Hash<std::pair<std::uint8_t, IdBytes>>()(
        {static_cast<std::uint8_t>(key.kind), key.id});
  }
};

// What is in `a` and not in `b`, both in order.
std::vector<std::string> Without(const std::vector<std::string>& a,
                                 const std::vector<std::string>& b) {
  std::vector<std::string> rest;
  std::set_difference(a.begin(), a.end(), b.begin(), b.end(), std::back_inserter(rest));
  return rest;
}

}  // namespace

struct State::Rep {
  explicit Rep(const Source& from) : source(from) {}

  const Source& source;
  // Never iterated: whatever its order is, nobody sees it.
  absl::flat_hash_map<SubjectKey, std::unique_ptr<SlotBase>, KeyHash> slots;
  std::vector<SlotBase*> draft;     // written in the present draft
  std::vector<SlotBase*> unstored;  // written by kept drafts since the last TakeChanges
  std::vector<SlotBase*> renaming;  // written since `names` counted their name
  // How many subjects have taken a name, and how many have left it. Never iterated either.
  struct Takers {
    std::size_t taken = 0;
    std::size_t left = 0;
  };
  using Names = absl::flat_hash_map<std::string, Takers>;
  Names names;                    // of unstored subjects
  std::deque<Names> names_ahead;  // of changes taken ahead, the first ones first
  absl::Status status;

  template <typename Subject>
  Slot<Subject>& SlotOf(const IdBytes& id) {
    const SubjectKey key{Subject::kKind, id};
    std::unique_ptr<SlotBase>& slot = slots[key];
    if (slot == nullptr) {
      auto fresh = std::make_unique<Slot<Subject>>(key);
      absl::StatusOr<std::optional<Subject>> value = Read<Subject>(source, id);
      if (value.ok()) {
        fresh->SetRead(*std::move(value));
      } else {
        status.Update(value.status());
      }
      slot = std::move(fresh);
    }
    return static_cast<Slot<Subject>&>(*slot);
  }

  // Lists a slot as written, before it is.
  void Write(SlotBase& slot) {
    if (!slot.in_draft) draft.push_back(&slot);
    Rename(slot);
  }

  void Rename(SlotBase& slot) {
    if (slot.renaming) return;
    slot.renaming = true;
    renaming.push_back(&slot);
  }

  Takers TakersOf(const std::string& name) const {
    Takers sum;
    const auto add = [&](const Names& some) {
      const auto found = some.find(name);
      if (found == some.end()) return;
      sum.taken += found->second.taken;
      sum.left += found->second.left;
    };
    for (const Names& ahead : names_ahead) add(ahead);
    add(names);
    return sum;
  }

  // Brings `names` up to date with every subject written since the last time. Subjects of the
  // present draft stay listed: they can be written again without a word.
  void RefreshNames() {
    std::vector<SlotBase*> listed;
    listed.swap(renaming);
    for (SlotBase* slot : listed) {
      slot->renaming = false;
      if (!slot->counted.before.empty()) --names[slot->counted.before].left;
      if (!slot->counted.after.empty()) --names[slot->counted.after].taken;
      slot->counted = slot->ChangedName();
      if (!slot->counted.before.empty()) ++names[slot->counted.before].left;
      if (!slot->counted.after.empty()) ++names[slot->counted.after].taken;
      if (slot->in_draft) Rename(*slot);
    }
  }
};

State::State(const Source& source) : rep_(std::make_unique<Rep>(source)) {}
State::~State() = default;

template <typename Subject, typename AnyId>
const Subject* State::Find(const AnyId& id) {
  return rep_->SlotOf<Subject>(BytesOf(id)).value();
}

template <typename Subject, typename AnyId>
Subject& State::Edit(const AnyId& id) {
  Slot<Subject>& slot = rep_->SlotOf<Subject>(BytesOf(id));
  rep_->Write(slot);
  if (slot.value() != nullptr) return slot.Edit();
  // Whoever edits has found it before, or has been told of it by another subject.
  BP_CHECK(!rep_->status.ok());
  return slot.Create();
}

template <typename Subject, typename AnyId>
Subject& State::Create(const AnyId& id) {
  Slot<Subject>& slot = rep_->SlotOf<Subject>(BytesOf(id));
  rep_->Write(slot);
  return slot.Create();
}

#define BP_ACCESS(Subject, AnyId)                             \
  template const Subject* State::Find<Subject>(const AnyId&); \
  template Subject& State::Edit<Subject>(const AnyId&);       \
  template Subject& State::Create<Subject>(const AnyId&)
BP_FOR_EVERY_SUBJECT(BP_ACCESS);
#undef BP_ACCESS

const Cooperative* State::cooperative() {
  return Find<Cooperative>(kCooperativeKey.id);
}
Cooperative& State::EditCooperative() {
  return Edit<Cooperative>(kCooperativeKey.id);
}

bool State::IsNamed(const std::string& prefix) {
  rep_->RefreshNames();
  const Rep::Takers takers = rep_->TakersOf(prefix);
  if (takers.taken > takers.left) return true;
  // One more than have left it: if the source has that many, one is still there.
  const std::size_t left = takers.left - takers.taken;
  const auto entries = rep_->source.IndexEntries(prefix, left + 1);
  if (entries.ok()) return entries->size() > left;
  rep_->status.Update(entries.status());
  return false;
}

std::vector<SubjectKey> State::DraftKeys() const {
  std::vector<SubjectKey> keys;
  keys.reserve(rep_->draft.size());
  for (const SlotBase* slot : rep_->draft) keys.push_back(slot->key());
  return keys;
}

void State::KeepDraft() {
  for (SlotBase* slot : rep_->draft) {
    if (slot->Keep()) rep_->unstored.push_back(slot);
  }
  rep_->draft.clear();
}

void State::DropDraft() {
  for (SlotBase* slot : rep_->draft) {
    slot->Restore();
    rep_->Rename(*slot);
  }
  rep_->draft.clear();
}

const absl::Status& State::source_status() const {
  return rep_->status;
}

std::vector<Change> State::TakeChanges() {
  std::vector<Change> changes = TakeChangesAhead();
  Settle();
  return changes;
}

std::vector<Change> State::TakeChangesAhead() {
  BP_CHECK(rep_->draft.empty());
  rep_->RefreshNames();
  std::sort(rep_->unstored.begin(), rep_->unstored.end(),
            [](const SlotBase* a, const SlotBase* b) { return a->key() < b->key(); });
  std::vector<Change> changes;
  changes.reserve(rep_->unstored.size());
  for (SlotBase* slot : rep_->unstored) {
    const EntryPair entries = slot->ChangedEntries();
    changes.push_back({.key = slot->key(),
                       .value = slot->Bytes(),
                       .index_removed = Without(entries.before, entries.after),
                       .index_added = Without(entries.after, entries.before)});
    slot->SetStored();
    slot->counted = {};
  }
  rep_->unstored.clear();
  rep_->names_ahead.push_back(std::exchange(rep_->names, {}));
  return changes;
}

void State::Settle() {
  BP_CHECK(!rep_->names_ahead.empty());
  rep_->names_ahead.pop_front();
}

void State::Shrink() {
  BP_CHECK(rep_->draft.empty() && rep_->unstored.empty() && rep_->names_ahead.empty());
  // Subjects of dropped drafts may still be listed.
  rep_->renaming.clear();
  rep_->names.clear();
  rep_->slots.clear();
}

std::size_t State::cached() const {
  return rep_->slots.size();
}

}  // namespace broodpact::registry
