#include "client/registry/layer.h"

#include <utility>

#include "client/base/status.h"
#include "client/registry/internal/entries_over.h"

namespace broodpact::registry {

void Layer::Lay(std::vector<Change> changes) {
  for (Change& change : changes) {
    subjects_.insert_or_assign(change.key, std::move(change.value));
    for (std::string& entry : change.index_removed) {
      entries_.insert_or_assign(std::move(entry), false);
    }
    for (std::string& entry : change.index_added) {
      entries_.insert_or_assign(std::move(entry), true);
    }
  }
}

absl::StatusOr<std::optional<std::string>> Layer::Subject(const SubjectKey& key) const {
  if (const auto laid = subjects_.find(key); laid != subjects_.end()) return laid->second;
  return base_.Subject(key);
}

absl::StatusOr<std::vector<std::string>> Layer::IndexEntries(std::string_view prefix,
                                                             std::size_t count_max) const {
  return EntriesOver(base_, entries_, prefix, count_max);
}

absl::StatusOr<std::vector<StoredSubject>> Layer::SubjectsOfKind(Kind kind,
                                                                 std::optional<IdBytes> after,
                                                                 std::size_t count_max) const {
  BP_ASSIGN_OR_RETURN(std::vector<StoredSubject> stored,
                      base_.SubjectsOfKind(kind, after, count_max));
  const auto begin = after.has_value() ? subjects_.upper_bound({kind, *after})
                                       : subjects_.lower_bound({kind, IdBytes{}});
  std::vector<StoredSubject> subjects;
  auto under = stored.begin();
  for (auto laid = begin; laid != subjects_.end() && laid->first.kind == kind; ++laid) {
    if (subjects.size() >= count_max) break;
    for (; under != stored.end() && under->id < laid->first.id; ++under) {
      subjects.push_back(std::move(*under));
    }
    if (under != stored.end() && under->id == laid->first.id) ++under;
    subjects.push_back({.id = laid->first.id, .value = laid->second});
  }
  for (; under != stored.end(); ++under) subjects.push_back(std::move(*under));
  if (subjects.size() > count_max) subjects.resize(count_max);
  return subjects;
}

}  // namespace broodpact::registry
