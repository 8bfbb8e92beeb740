#pragma once

// What stands on a sheet, as html.h and pdf.h lay it out.

#include <cstddef>
#include <string>
#include <vector>

namespace broodpact::cli {

// Rows of a section, all as long as the header. Empty header: no table.
struct SheetTable {
  std::vector<std::string> header{};
  std::vector<std::vector<std::string>> rows{};
  std::vector<std::string> last_before{};  // what the last cell of a row may have said earlier
};

// What becomes of a section as time goes on. A page that was made before may differ by that much
// from one that is made now.
enum class Passing {
  kStays,  // nothing
  kGrows,  // lines and rows come in between
  kMoves,  // all of it may change
};

struct SheetSection {
  std::string heading{};
  std::vector<std::string> lines{};  // paragraphs, before the table
  SheetTable table{};
  Passing passing = Passing::kStays;
};

// A square of modules, row by row; true is dark. Without the quiet zone around it, which is four
// modules wide.
struct QrCode {
  std::size_t size = 0;
  std::vector<bool> dark{};

  bool IsDark(std::size_t row, std::size_t column) const { return dark[row * size + column]; }
};

inline constexpr std::size_t kQuietZone = 4;

}  // namespace broodpact::cli
