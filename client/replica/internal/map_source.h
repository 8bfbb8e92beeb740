#pragma once

// A state in memory: what a replica's fold is computed into when it is compared with the stored
// one.

#include <map>
#include <set>
#include <string>
#include <vector>

#include "client/registry/state.h"

namespace broodpact::replica {

class MapSource final : public registry::Source {
 public:
  void Store(std::vector<registry::Change> changes);

  const std::map<registry::SubjectKey, std::string>& subjects() const { return subjects_; }
  const std::set<std::string, std::less<>>& entries() const { return entries_; }

  absl::StatusOr<std::optional<std::string>> Subject(
      const registry::SubjectKey& key) const override;
  absl::StatusOr<std::vector<std::string>> IndexEntries(std::string_view prefix,
                                                        std::size_t count_max) const override;
  absl::StatusOr<std::vector<registry::StoredSubject>> SubjectsOfKind(
      registry::Kind kind, std::optional<IdBytes> after, std::size_t count_max) const override;

 private:
  std::map<registry::SubjectKey, std::string> subjects_;
  std::set<std::string, std::less<>> entries_;
};

}  // namespace broodpact::replica
