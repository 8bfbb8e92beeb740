#include "client/registry/internal/entries_over.h"

#include <algorithm>
#include <limits>
#include <utility>

#include "client/base/status.h"

namespace broodpact::registry {

absl::StatusOr<std::vector<std::string>> EntriesOver(const Source& source,
                                                     const EntryChanges& changes,
                                                     std::string_view prefix,
                                                     std::size_t count_max) {
  const auto begin = changes.lower_bound(prefix);
  auto end = begin;
  std::size_t removed = 0;
  for (; end != changes.end() && end->first.starts_with(prefix); ++end) {
    if (!end->second) ++removed;
  }

  // As many more as may fall away again.
  const std::size_t spare = std::numeric_limits<std::size_t>::max() - count_max;
  BP_ASSIGN_OR_RETURN(std::vector<std::string> entries,
                      source.IndexEntries(prefix, count_max + std::min(removed, spare)));
  if (begin == end) return entries;
  std::erase_if(entries, [&](const std::string& entry) { return changes.contains(entry); });
  for (auto it = begin; it != end; ++it) {
    if (it->second) entries.push_back(it->first);
  }
  std::sort(entries.begin(), entries.end());
  if (entries.size() > count_max) entries.resize(count_max);
  return entries;
}

}  // namespace broodpact::registry
