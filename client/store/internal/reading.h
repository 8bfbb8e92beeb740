#pragma once

// Answers the questions of registry::Source from the database, as it is now or as of a snapshot.

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/statusor.h"

#include "client/registry/state.h"
#include "client/store/internal/database.h"

namespace broodpact::store {

class Reading : public registry::Source {
 public:
  // `snapshot` may be nullptr: as it is now. Both outlive this.
  Reading(const Database& database, const rocksdb::Snapshot* snapshot)
      : database_(database), snapshot_(snapshot) {}

  absl::StatusOr<std::optional<std::string>> Subject(
      const registry::SubjectKey& key) const override;
  absl::StatusOr<std::vector<std::string>> IndexEntries(std::string_view prefix,
                                                        std::size_t count_max) const override;
  absl::StatusOr<std::vector<registry::StoredSubject>> SubjectsOfKind(
      registry::Kind kind, std::optional<IdBytes> after, std::size_t count_max) const override;
  absl::StatusOr<std::vector<std::optional<std::string>>> Subjects(
      const std::vector<registry::SubjectKey>& keys) const override;

 protected:
  const Database& database() const { return database_; }
  const rocksdb::Snapshot* snapshot() const { return snapshot_; }

 private:
  rocksdb::ReadOptions Options() const;

  const Database& database_;
  const rocksdb::Snapshot* snapshot_;
};

}  // namespace broodpact::store
