// What a fold reads: one iterator over the index serves all its questions.

#include <memory>

#include "client/base/status.h"
#include "client/store/internal/errors.h"
#include "client/store/internal/reading.h"
#include "client/store/internal/rep.h"
#include "client/store/store.h"

namespace broodpact::store {
namespace {

class FoldSource final : public Reading {
 public:
  explicit FoldSource(const Database& database)
      : Reading(database, nullptr),
        index_(database.Iterate(Part::kIndex, rocksdb::ReadOptions())) {}

  absl::StatusOr<std::vector<std::string>> IndexEntries(std::string_view prefix,
                                                        std::size_t count_max) const override {
    std::vector<std::string> entries;
    for (index_->Seek(SliceOf(prefix)); index_->Valid() && entries.size() < count_max;
         index_->Next()) {
      const std::string_view entry = TextOf(index_->key());
      if (!entry.starts_with(prefix)) return entries;
      entries.emplace_back(entry);
    }
    BP_RETURN_IF_ERROR(FromRocks(index_->status(), Doing::kReading));
    return entries;
  }

 private:
  std::unique_ptr<rocksdb::Iterator> index_;
};

}  // namespace

std::unique_ptr<registry::Source> Store::ForFold() const {
  return std::make_unique<FoldSource>(*rep_->database);
}

}  // namespace broodpact::store
