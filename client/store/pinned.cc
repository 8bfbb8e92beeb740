#include "client/store/pinned.h"

#include <string>

#include "client/base/status.h"
#include "client/store/internal/database.h"
#include "client/store/internal/errors.h"
#include "client/store/internal/keys.h"

namespace broodpact::store {

Pinned::Pinned(const Database& database, facts::LogPoint point, MerkleFrontier tree)
    : database_(database),
      snapshot_(database.db().GetSnapshot()),
      point_(point),
      tree_(std::move(tree)) {}

Pinned::~Pinned() {
  database_.db().ReleaseSnapshot(snapshot_);
}

absl::Status Pinned::VisitSubjects(const Visit& visit) const {
  return VisitPart(Part::kState, "", visit);
}

absl::Status Pinned::VisitHeads(const Visit& visit) const {
  return VisitPart(Part::kChains, HeadPrefix().view(), visit);
}

absl::Status Pinned::VisitPart(Part part, std::string_view prefix, const Visit& visit) const {
  rocksdb::ReadOptions options;
  options.snapshot = snapshot_;
  options.fill_cache = false;
  const auto iterator = database_.Iterate(part, options);
  for (iterator->Seek(SliceOf(prefix)); iterator->Valid(); iterator->Next()) {
    const std::string_view key = TextOf(iterator->key());
    if (!key.starts_with(prefix)) break;
    BP_RETURN_IF_ERROR(visit(key.substr(prefix.size()), TextOf(iterator->value())));
  }
  return FromRocks(iterator->status(), Doing::kReading);
}

}  // namespace broodpact::store
