#pragma once

// How RocksDB is set up for a replica, each choice with its reason.

#include <array>
#include <cstddef>
#include <string_view>
#include <vector>

#include "rocksdb/db.h"
#include "rocksdb/options.h"

#include "client/store/store.h"

namespace broodpact::store {

// The column families, in the order in which they are opened. RocksDB insists on one more, called
// "default", which stays empty.
enum class Part : std::size_t { kLog, kVerdicts, kChains, kState, kIndex, kPending, kMeta };
inline constexpr std::array<std::string_view, 7> kPartNames = {
    "log", "verdicts", "chains", "state", "index", "pending", "meta"};

rocksdb::DBOptions DatabaseOptions(Access access);

// One descriptor a part, in the order of Part, then the one of "default".
std::vector<rocksdb::ColumnFamilyDescriptor> PartDescriptors();

}  // namespace broodpact::store
