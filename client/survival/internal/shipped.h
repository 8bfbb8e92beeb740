#pragma once

// The table of expectations that is part of the program: the bytes of data/expectations.tsv,
// written down as a source file when the build is configured.

#include <string_view>

namespace broodpact::survival {

// NOLINTNEXTLINE(readability-identifier-naming): a constant, of a source that is written later.
extern const std::string_view kShippedExpectations;

}  // namespace broodpact::survival
