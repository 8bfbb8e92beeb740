#include "tests/registry/map_source.h"

#include "gtest/gtest.h"

namespace broodpact::registry {

void MapSource::Store(const std::vector<Change>& changes) {
  for (const Change& change : changes) {
    subjects_[change.key] = change.value;
    for (const std::string& entry : change.index_removed) EXPECT_EQ(entries_.erase(entry), 1U);
    for (const std::string& entry : change.index_added) {
      EXPECT_TRUE(entries_.insert(entry).second);
    }
  }
}

absl::StatusOr<std::optional<std::string>> MapSource::Subject(const SubjectKey& key) const {
  const auto found = subjects_.find(key);
  if (found == subjects_.end()) return std::optional<std::string>();
  return std::optional<std::string>(found->second);
}

absl::StatusOr<std::vector<std::string>> MapSource::IndexEntries(std::string_view prefix,
                                                                 std::size_t count_max) const {
  std::vector<std::string> found;
  for (const std::string& entry : entries_) {
    if (found.size() < count_max && entry.starts_with(prefix)) found.push_back(entry);
  }
  return found;
}

absl::StatusOr<std::vector<StoredSubject>> MapSource::SubjectsOfKind(Kind kind,
                                                                     std::optional<IdBytes> after,
                                                                     std::size_t count_max) const {
  std::vector<StoredSubject> found;
  for (const auto& [key, value] : subjects_) {
    if (key.kind != kind || (after.has_value() && key.id <= *after)) continue;
    if (found.size() < count_max) found.push_back({.id = key.id, .value = value});
  }
  return found;
}

}  // namespace broodpact::registry
