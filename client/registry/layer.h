#pragma once

// A source with changes laid over another: how provisional results show on top of final ones. The
// changes are thrown away by dropping the layer.

#include <map>
#include <string>
#include <vector>

#include "client/registry/state.h"

namespace broodpact::registry {

// Answers as `base` would if `Lay`ed changes were stored in it. Safe to read from several threads
// while nobody lays.
class Layer final : public Source {
 public:
  // `base` outlives the layer.
  explicit Layer(const Source& base) : base_(base) {}

  // Lays changes over what is there, later ones over earlier ones.
  void Lay(std::vector<Change> changes);

  // Whether a subject shows because of a laid change: it is provisional.
  bool Covers(const SubjectKey& key) const { return subjects_.contains(key); }
  bool empty() const { return subjects_.empty(); }

  absl::StatusOr<std::optional<std::string>> Subject(const SubjectKey& key) const override;
  absl::StatusOr<std::vector<std::string>> IndexEntries(std::string_view prefix,
                                                        std::size_t count_max) const override;
  absl::StatusOr<std::vector<StoredSubject>> SubjectsOfKind(Kind kind, std::optional<IdBytes> after,
                                                            std::size_t count_max) const override;

 private:
  const Source& base_;
  std::map<SubjectKey, std::string> subjects_;
  std::map<std::string, bool, std::less<>> entries_;  // true: added, false: removed
};

}  // namespace broodpact::registry
