#include "client/store/internal/reading.h"

#include <utility>

#include "client/base/status.h"
#include "client/store/internal/errors.h"
#include "client/store/internal/keys.h"

namespace broodpact::store {

rocksdb::ReadOptions Reading::Options() const {
  rocksdb::ReadOptions options;
  options.snapshot = snapshot_;
  return options;
}

absl::StatusOr<std::optional<std::string>> Reading::Subject(const registry::SubjectKey& key) const {
  std::string value;
  const rocksdb::Status status = database_.db().Get(Options(), database_.part(Part::kState),
                                                    SliceOf(StateKey(key).view()), &value);
  if (status.IsNotFound()) return std::optional<std::string>();
  if (!status.ok()) return FromRocks(status, Doing::kReading);
  return std::optional<std::string>(std::move(value));
}

absl::StatusOr<std::vector<std::string>> Reading::IndexEntries(std::string_view prefix,
                                                               std::size_t count_max) const {
  const std::string end = AfterPrefix(prefix);
  const rocksdb::Slice end_slice = SliceOf(end);
  rocksdb::ReadOptions options = Options();
  if (!end.empty()) options.iterate_upper_bound = &end_slice;

  std::vector<std::string> entries;
  const auto iterator = database_.Iterate(Part::kIndex, options);
  for (iterator->Seek(SliceOf(prefix)); iterator->Valid() && entries.size() < count_max;
       iterator->Next()) {
    entries.emplace_back(TextOf(iterator->key()));
  }
  BP_RETURN_IF_ERROR(FromRocks(iterator->status(), Doing::kReading));
  return entries;
}

absl::StatusOr<std::vector<registry::StoredSubject>> Reading::SubjectsOfKind(
    registry::Kind kind, std::optional<IdBytes> after, std::size_t count_max) const {
  const Key kind_key = Key().Letter(static_cast<char>(kind));
  const std::string end = AfterPrefix(kind_key.view());
  const rocksdb::Slice end_slice = SliceOf(end);
  rocksdb::ReadOptions options = Options();
  options.iterate_upper_bound = &end_slice;

  std::string begin(kind_key.view());
  // A key with a zero byte more is the next one that could be.
  if (after.has_value()) begin.append(ViewOf(*after)).push_back('\0');

  std::vector<registry::StoredSubject> subjects;
  const auto iterator = database_.Iterate(Part::kState, options);
  for (iterator->Seek(SliceOf(begin)); iterator->Valid() && subjects.size() < count_max;
       iterator->Next()) {
    const std::optional<IdBytes> id = IdOfBytes(TextOf(iterator->key()).substr(1));
    if (!id.has_value()) return Damaged("a subject has a key of the wrong length");
    subjects.push_back({.id = *id, .value = iterator->value().ToString()});
  }
  BP_RETURN_IF_ERROR(FromRocks(iterator->status(), Doing::kReading));
  return subjects;
}

absl::StatusOr<std::vector<std::optional<std::string>>> Reading::Subjects(
    const std::vector<registry::SubjectKey>& keys) const {
  std::vector<Key> texts;
  texts.reserve(keys.size());
  for (const registry::SubjectKey& key : keys) texts.push_back(StateKey(key));
  std::vector<rocksdb::Slice> slices;
  slices.reserve(keys.size());
  for (const Key& text : texts) slices.push_back(SliceOf(text.view()));

  std::vector<rocksdb::PinnableSlice> values(keys.size());
  std::vector<rocksdb::Status> statuses(keys.size());
  database_.db().MultiGet(Options(), database_.part(Part::kState), slices.size(), slices.data(),
                          values.data(), statuses.data());

  std::vector<std::optional<std::string>> subjects(keys.size());
  for (std::size_t i = 0; i < keys.size(); ++i) {
    if (statuses[i].IsNotFound()) continue;
    BP_RETURN_IF_ERROR(FromRocks(statuses[i], Doing::kReading));
    subjects[i] = values[i].ToString();
  }
  return subjects;
}

}  // namespace broodpact::store
