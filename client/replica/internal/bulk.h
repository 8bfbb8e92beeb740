#pragma once

// Many subjects in one read.

#include <optional>
#include <string>
#include <vector>

#include "absl/status/statusor.h"

#include "client/base/status.h"
#include "client/registry/index.h"
#include "client/registry/state.h"

namespace broodpact::replica {

// Subjects of a kind in one page of a walk over all of them.
inline constexpr std::size_t kPageSubjects = 1'000;

// Decodes a subject onto the end of `subjects`.
// Errors: DATA_LOSS with reason STORE_DAMAGED.
template <typename Subject>
absl::Status DecodeOnto(std::vector<Subject>& subjects, std::string_view bytes) {
  std::optional<Subject> subject = registry::Decode<Subject>(bytes);
  if (!subject) {
    return Fail(absl::StatusCode::kDataLoss, "STORE_DAMAGED",
                "a subject cannot be read; `broodpact rebuild` restores it from the commits");
  }
  subjects.push_back(*std::move(subject));
  return absl::OkStatus();
}

// The subjects with these ids, in that order; those that are not there are left out.
// Errors: those of the source and of DecodeOnto.
template <typename Subject, typename AnyId>
absl::StatusOr<std::vector<Subject>> ReadMany(const registry::Source& source,
                                              const std::vector<AnyId>& ids) {
  std::vector<Subject> subjects;
  if (ids.empty()) return subjects;
  std::vector<registry::SubjectKey> keys;
  keys.reserve(ids.size());
  for (const AnyId& id : ids) keys.push_back({Subject::kKind, id.bytes});
  BP_ASSIGN_OR_RETURN(const auto values, source.Subjects(keys));
  subjects.reserve(ids.size());
  for (const std::optional<std::string>& value : values) {
    if (value) BP_RETURN_IF_ERROR(DecodeOnto(subjects, *value));
  }
  return subjects;
}

// The ids at the end of the index entries that begin with `prefix`, at most `count_max`.
template <typename AnyId>
absl::StatusOr<std::vector<AnyId>> IdsBehind(const registry::Source& source,
                                             const std::string& prefix, std::size_t count_max) {
  BP_ASSIGN_OR_RETURN(const std::vector<std::string> entries,
                      source.IndexEntries(prefix, count_max));
  std::vector<AnyId> ids;
  ids.reserve(entries.size());
  for (const std::string& entry : entries) ids.push_back(AnyId{registry::IdOfEntry(entry)});
  return ids;
}

}  // namespace broodpact::replica
