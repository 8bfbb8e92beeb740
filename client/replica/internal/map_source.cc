#include "client/replica/internal/map_source.h"

namespace broodpact::replica {

void MapSource::Store(std::vector<registry::Change> changes) {
  for (registry::Change& change : changes) {
    for (const std::string& entry : change.index_removed) entries_.erase(entry);
    for (std::string& entry : change.index_added) entries_.insert(std::move(entry));
    subjects_[change.key] = std::move(change.value);
  }
}

absl::StatusOr<std::optional<std::string>> MapSource::Subject(
    const registry::SubjectKey& key) const {
  const auto found = subjects_.find(key);
  if (found == subjects_.end()) return std::optional<std::string>();
  return std::optional<std::string>(found->second);
}

absl::StatusOr<std::vector<std::string>> MapSource::IndexEntries(std::string_view prefix,
                                                                 std::size_t count_max) const {
  std::vector<std::string> found;
  for (auto entry = entries_.lower_bound(prefix);
       entry != entries_.end() && entry->starts_with(prefix) && found.size() < count_max; ++entry) {
    found.push_back(*entry);
  }
  return found;
}

absl::StatusOr<std::vector<registry::StoredSubject>> MapSource::SubjectsOfKind(
    registry::Kind kind, std::optional<IdBytes> after, std::size_t count_max) const {
  std::vector<registry::StoredSubject> found;
  auto subject = after ? subjects_.upper_bound({kind, *after}) : subjects_.lower_bound({kind, {}});
  for (; subject != subjects_.end() && subject->first.kind == kind && found.size() < count_max;
       ++subject) {
    found.push_back({.id = subject->first.id, .value = subject->second});
  }
  return found;
}

}  // namespace broodpact::replica
