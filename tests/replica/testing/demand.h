#pragma once

// What a test needs to succeed before it begins: anything else ends the program, with what was
// wrong.

#include <iostream>
#include <utility>

#include "absl/status/statusor.h"

#include "client/base/check.h"

namespace broodpact::testing {

inline void Demand(const absl::Status& status) {
  if (status.ok()) return;
  std::cerr << status << '\n';
  BP_CHECK(false);
}

template <typename T>
T Demand(absl::StatusOr<T> value) {
  Demand(value.status());
  return *std::move(value);
}

}  // namespace broodpact::testing
