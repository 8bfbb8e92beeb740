#pragma once

// Terms in words, with the names of those whom they name.

#include <optional>
#include <string>
#include <vector>

#include "broodpact/v1/registry.pb.h"
#include "client/base/day.h"
#include "client/facts/terms.h"
#include "client/replica/internal/ref_book.h"
#include "client/shares/split.h"

namespace broodpact::replica {

// The names for the clauses of terms: of keepers, or of roles where a party is no keeper yet.
shares::ClauseNames NamesFor(const facts::Terms& terms, RefBook& refs);

// What is remarkable about the terms, as it is shown.
std::vector<v1::Remark> RemarksOf(const facts::Terms& terms, const std::optional<Day>& return_day,
                                  const std::vector<std::string>& names);

}  // namespace broodpact::replica
