#include "client/store/internal/erasing.h"

#include <memory>

#include "client/store/internal/keys.h"

namespace broodpact::store {

// NOLINTNEXTLINE(readability-function-size): a range, where it is, where it goes, and a bound.
void EraseRange(const Database& database, Part part, std::string_view begin, std::string_view end,
                rocksdb::WriteBatch& writes, std::size_t singly_max) {
  rocksdb::ColumnFamilyHandle* const handle = database.part(part);
  const rocksdb::Slice end_slice = SliceOf(end);
  rocksdb::ReadOptions options;
  options.iterate_upper_bound = &end_slice;
  options.total_order_seek = true;  // the range is not one of a filter's names
  options.fill_cache = false;
  const auto iterator = database.Iterate(part, options);
  writes.SetSavePoint();
  std::size_t erased = 0;
  for (iterator->Seek(SliceOf(begin)); iterator->Valid(); iterator->Next()) {
    if (++erased > singly_max) break;
    writes.Delete(handle, iterator->key());
  }
  const bool is_all = iterator->status().ok() && !iterator->Valid();
  (is_all ? writes.PopSavePoint() : writes.RollbackToSavePoint()).PermitUncheckedError();
  if (!is_all) writes.DeleteRange(handle, SliceOf(begin), end_slice);
}

void EraseFrom(const Database& database, Part part, std::string_view begin,
               rocksdb::WriteBatch& writes) {
  EraseRange(database, part, begin, kAboveAllKeys, writes);
}

void EraseFold(const Database& database, rocksdb::WriteBatch& writes) {
  for (const Part part : {Part::kState, Part::kIndex, Part::kVerdicts}) {
    EraseFrom(database, part, "", writes);
  }
}

}  // namespace broodpact::store
