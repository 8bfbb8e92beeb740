#pragma once

// The state that the fold works on: subjects by key, over a source of bytes that it does not own.
//
// Reads go through a cache; writes stay in the state until its owner takes them with TakeChanges()
// and stores them. A Draft groups the writes of one commit: kept together, or dropped together.
//
// Not thread-safe. Whatever order keys are touched in, the same commits give the same values.

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/status.h"
#include "absl/status/statusor.h"

#include "client/registry/encode.h"
#include "client/registry/subject.h"

namespace broodpact::registry {

// A subject as it is stored.
struct StoredSubject {
  IdBytes id{};
  std::string value{};
};

// Where stored subjects and index entries come from: a database, or a map in a test.
class Source {
 public:
  virtual ~Source() = default;

  // The bytes of a subject; nothing if there is none.
  // Errors: DATA_LOSS with reason STORE_DAMAGED; UNAVAILABLE with reason STORE_READ.
  virtual absl::StatusOr<std::optional<std::string>> Subject(const SubjectKey& key) const = 0;

  // The index entries that begin with `prefix` (index.h), in order, at most `count_max`: how the
  // fold asks whether a name is taken.
  virtual absl::StatusOr<std::vector<std::string>> IndexEntries(std::string_view prefix,
                                                                std::size_t count_max) const = 0;

  // The subjects of a kind in order of id, after `after` (nothing: from the first), at most
  // `count_max`.
  virtual absl::StatusOr<std::vector<StoredSubject>> SubjectsOfKind(
      Kind kind, std::optional<IdBytes> after, std::size_t count_max) const = 0;

  // The bytes of several subjects, in the order of `keys`; nothing where there is none. A source
  // with a faster way than one by one overrides it.
  virtual absl::StatusOr<std::vector<std::optional<std::string>>> Subjects(
      const std::vector<SubjectKey>& keys) const;
};

// A source with nothing in it.
const Source& EmptySource();

// One changed subject, ready to be stored.
struct Change {
  SubjectKey key{};
  std::string value{};                       // its new bytes
  std::vector<std::string> index_removed{};  // index entries that no longer hold
  std::vector<std::string> index_added{};    // index entries that hold now
};

// The subject, read and decoded; nothing if there is none.
// Errors: those of the source; DATA_LOSS with reason STORE_DAMAGED for bytes that do not decode.
template <typename Subject, typename AnyId>
absl::StatusOr<std::optional<Subject>> Read(const Source& source, const AnyId& id);

// See the top of the file. Find, Edit and Create, and Read above, exist for every struct of
// subject.h, by its own kind of id or by the 16 bytes of its key.
class State {
 public:
  // `source` outlives the state.
  explicit State(const Source& source);
  ~State();
  State(const State&) = delete;
  State& operator=(const State&) = delete;

  // The subject, as the present draft has it; nullptr if there is none. Valid until the draft ends
  // or the subject is edited.
  template <typename Subject, typename AnyId>
  const Subject* Find(const AnyId& id);

  // The subject, to be changed in the present draft. Must exist, unless the source failed: then an
  // empty one. Valid until the draft ends.
  template <typename Subject, typename AnyId>
  Subject& Edit(const AnyId& id);

  // A new subject in the present draft. Must not exist. Valid until the draft ends.
  template <typename Subject, typename AnyId>
  Subject& Create(const AnyId& id);

  const Cooperative* cooperative();
  Cooperative& EditCooperative();

  // Whether a subject has this name, as the present draft has it: `prefix` is one that
  // UniqueNameOf gives (index.h).
  bool IsNamed(const std::string& prefix);

  // The subjects written in the present draft, in the order of first writing.
  std::vector<SubjectKey> DraftKeys() const;

  // Keeps, or drops, what was written since the last of these two.
  void KeepDraft();
  void DropDraft();

  // The first error of the source, if any: what was folded since is worthless, and the state too.
  const absl::Status& source_status() const;

  // The subjects changed by kept drafts since the last call, each once, in key order; they count
  // as stored from now on.
  std::vector<Change> TakeChanges();

  // The same, for an owner that stores them while the fold goes on: until Settle() the source
  // answers as it did before them. Several can be on their way.
  std::vector<Change> TakeChangesAhead();

  // The changes that were taken ahead first are in the source now.
  void Settle();

  // Forgets what is cached and stored, to bound memory. Call it with no draft, and no changes
  // pending or taken ahead.
  void Shrink();

  // Subjects in the cache.
  std::size_t cached() const;

 private:
  struct Rep;
  std::unique_ptr<Rep> rep_;
};

}  // namespace broodpact::registry
