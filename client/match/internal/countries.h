#pragma once

// The table of places of countries that is part of the program: the bytes of data/countries.tsv,
// written down as a source file when the build is configured.

#include <string_view>

namespace broodpact::match {

// NOLINTNEXTLINE(readability-identifier-naming): a constant, of a source that is written later.
extern const std::string_view kCountries;

}  // namespace broodpact::match
