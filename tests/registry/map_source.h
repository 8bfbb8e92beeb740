#pragma once

// A source of subjects in memory: what a store does, by two maps and no cleverness.

#include <map>
#include <set>
#include <string>
#include <vector>

#include "client/registry/state.h"

namespace broodpact::registry {

class MapSource final : public Source {
 public:
  // Stores changes. Fails the test if an entry is removed that is not there, or added twice.
  void Store(const std::vector<Change>& changes);

  absl::StatusOr<std::optional<std::string>> Subject(const SubjectKey& key) const override;
  absl::StatusOr<std::vector<std::string>> IndexEntries(std::string_view prefix,
                                                        std::size_t count_max) const override;
  absl::StatusOr<std::vector<StoredSubject>> SubjectsOfKind(Kind kind, std::optional<IdBytes> after,
                                                            std::size_t count_max) const override;

  const std::map<SubjectKey, std::string>& subjects() const { return subjects_; }
  const std::set<std::string, std::less<>>& entries() const { return entries_; }

  // The subjects of a kind, decoded.
  template <typename Kind>
  std::vector<Kind> All() const {
    std::vector<Kind> all;
    for (const auto& [key, value] : subjects_) {
      if (key.kind == Kind::kKind) all.push_back(*Decode<Kind>(value));
    }
    return all;
  }

  friend bool operator==(const MapSource& a, const MapSource& b) {
    return a.subjects_ == b.subjects_ && a.entries_ == b.entries_;
  }

 private:
  std::map<SubjectKey, std::string> subjects_;
  std::set<std::string, std::less<>> entries_;
};

}  // namespace broodpact::registry
