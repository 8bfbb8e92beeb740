#pragma once

// One subject in the cache of a State: its value, and what it was before the draft and before the
// last TakeChanges, kept only while it differs.

#include <memory>
#include <optional>
#include <string>
#include <type_traits>
#include <utility>
#include <vector>

#include "client/base/check.h"
#include "client/registry/encode.h"
#include "client/registry/index.h"

namespace broodpact::registry {

// Index entries, before and after.
struct EntryPair {
  std::vector<std::string> before;
  std::vector<std::string> after;
};

// A subject's unique name, as stored and as it is now; both empty if they are the same.
struct NamePair {
  std::string before;
  std::string after;
};

// What a State does with a subject whatever its kind.
class SlotBase {
 public:
  explicit SlotBase(const SubjectKey& key) : key_(key) {}
  virtual ~SlotBase() = default;
  SlotBase(const SlotBase&) = delete;
  SlotBase& operator=(const SlotBase&) = delete;

  const SubjectKey& key() const { return key_; }

  // Keeps what the draft wrote. Returns whether the subject has become one to be stored.
  virtual bool Keep() = 0;
  // Puts back what was before the draft.
  virtual void Restore() = 0;
  // Its bytes, as they are to be stored.
  virtual std::string Bytes() const = 0;
  // Its index entries as stored and as they are now; both empty if they are the same.
  virtual EntryPair ChangedEntries() const = 0;
  // Its unique name (index.h) as stored and as it is now.
  virtual NamePair ChangedName() const = 0;
  // Counts it as stored.
  virtual void SetStored() = 0;

  bool in_draft = false;
  bool renaming = false;  // listed in State as written since its name was looked at
  NamePair counted{};     // what State counts of its name

 private:
  SubjectKey key_;
};

template <typename Subject>
class Slot final : public SlotBase {
 public:
  using SlotBase::SlotBase;

  const Subject* value() const { return value_ ? &*value_ : nullptr; }

  void SetRead(std::optional<Subject> value) { value_ = std::move(value); }

  // The value, to be written. Remembers it as it was, at the first time in a draft.
  Subject& Edit() {
    BP_CHECK(value_.has_value());
    if (!in_draft) {
      before_ = std::make_unique<Subject>(*value_);
      in_draft = true;
    }
    return *value_;
  }

  Subject& Create() {
    BP_CHECK(!value_.has_value());
    in_draft = true;
    value_.emplace();
    if constexpr (std::is_same_v<Subject, Frozen> || std::is_same_v<Subject, Branch> ||
                  std::is_same_v<Subject, Stretch>) {
      value_->id = key().id;
    } else if constexpr (!std::is_same_v<Subject, Cooperative>) {
      value_->id.bytes = key().id;
    }
    return *value_;
  }

  bool Keep() override {
    in_draft = false;
    if (unstored_) {
      before_.reset();
      return false;
    }
    stored_ = std::move(before_);
    unstored_ = true;
    return true;
  }

  void Restore() override {
    in_draft = false;
    if (before_ == nullptr) {
      value_.reset();
      return;
    }
    value_ = std::move(*before_);
    before_.reset();
  }

  std::string Bytes() const override {
    BP_CHECK(value_.has_value());
    return Encode(*value_);
  }

  EntryPair ChangedEntries() const override {
    const Subject* stored = Stored();
    if (stored == value()) return {};
    if (stored != nullptr && value_.has_value() && SameIndexEntries(*stored, *value_)) return {};
    EntryPair pair;
    if (stored != nullptr) pair.before = IndexEntriesOf(*stored);
    if (value_.has_value()) pair.after = IndexEntriesOf(*value_);
    return pair;
  }

  NamePair ChangedName() const override {
    const Subject* stored = Stored();
    if (stored == value()) return {};
    if (stored != nullptr && value_.has_value() && SameUniqueName(*stored, *value_)) return {};
    NamePair pair;
    if (stored != nullptr) pair.before = UniqueNameOf(*stored);
    if (value_.has_value()) pair.after = UniqueNameOf(*value_);
    return pair;
  }

  void SetStored() override {
    unstored_ = false;
    stored_.reset();
  }

 private:
  // The value as the source has it; nullptr if it has none.
  const Subject* Stored() const {
    if (unstored_) return stored_.get();
    return in_draft ? before_.get() : value();
  }

  std::optional<Subject> value_{};
  std::unique_ptr<Subject> before_{};  // before the draft; nullptr: there was none
  std::unique_ptr<Subject> stored_{};  // in the source, if `unstored_`; nullptr: there is none
  bool unstored_ = false;              // kept drafts have written it since the last TakeChanges
};

}  // namespace broodpact::registry
