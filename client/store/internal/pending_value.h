#pragma once

// The value of a pending commit: signature(64) commit.

#include <optional>
#include <string>
#include <string_view>

#include "client/base/hash.h"
#include "client/store/store.h"

namespace broodpact::store {

inline std::string PendingValue(const PendingCommit& pending) {
  std::string value(ViewOf(pending.commit.signature));
  value.append(pending.commit.bytes);
  return value;
}

}  // namespace broodpact::store
