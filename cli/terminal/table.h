#pragma once

// Rows and fields as text: aligned for a person, tab-separated and whole for a program.

#include <string>
#include <utility>
#include <vector>

#include "cli/terminal/terminal.h"

namespace broodpact::cli {

using Row = std::vector<std::string>;

// Prints `rows`, each as long as `header`: aligned columns under the header for a person, the
// widest cut with "…" where they do not fit the terminal; tab-separated values and no header when
// `out` is not a terminal. Values are cleaned.
void PrintTable(const Terminal& terminal, const Row& header, const std::vector<Row>& rows);

// A name and its value; an empty value is not known, or does not apply, and is left out.
using Field = std::pair<std::string, std::string>;

// Prints one subject, a field a line: "name   value", or "name<TAB>value".
void PrintFields(const Terminal& terminal, const std::vector<Field>& fields);

// Columns that a text takes: its code points. Wide and combining characters count as one.
std::size_t ColumnsOf(std::string_view text);

}  // namespace broodpact::cli
