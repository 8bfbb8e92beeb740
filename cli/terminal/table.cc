#include "cli/terminal/table.h"

#include <algorithm>
#include <cstddef>

namespace broodpact::cli {
namespace {

constexpr std::size_t kGap = 2;
constexpr std::size_t kColumnMin = 8;  // a cut column keeps so much

bool BeginsCodePoint(char c) {
  return (static_cast<unsigned char>(c) & 0xC0) != 0x80;
}

// The first `columns` code points of `text`, the last of them "…" if more was there.
std::string Cut(const std::string& text, std::size_t columns) {
  if (ColumnsOf(text) <= columns) return text;
  std::size_t size = 0;
  std::size_t seen = 0;
  for (; size < text.size(); ++size) {
    if (BeginsCodePoint(text[size]) && ++seen > columns - 1) break;
  }
  return text.substr(0, size) + "…";
}

std::vector<std::size_t> WidthsOf(const Row& header, const std::vector<Row>& rows) {
  std::vector<std::size_t> widths(header.size());
  const auto widen = [&](const Row& row) {
    for (std::size_t i = 0; i < row.size() && i < widths.size(); ++i) {
      widths[i] = std::max(widths[i], ColumnsOf(row[i]));
    }
  };
  widen(header);
  for (const Row& row : rows) widen(row);
  return widths;
}

// Takes columns from the widest until all fit, or nothing more can be taken.
void Fit(std::vector<std::size_t>& widths, std::size_t width) {
  std::size_t total = kGap * (widths.size() - 1);
  for (const std::size_t each : widths) total += each;
  while (total > width) {
    const auto widest = std::max_element(widths.begin(), widths.end());
    if (*widest <= kColumnMin) return;
    --*widest;
    --total;
  }
}

std::string Aligned(const Row& row, const std::vector<std::size_t>& widths) {
  std::string line;
  for (std::size_t i = 0; i < row.size(); ++i) {
    const std::string cell = Cut(row[i], widths[i]);
    line += cell;
    if (i + 1 < row.size()) line.append(widths[i] - ColumnsOf(cell) + kGap, ' ');
  }
  line.erase(line.find_last_not_of(' ') + 1);
  return line;
}

void PrintTabbed(std::ostream& out, const Row& row) {
  for (std::size_t i = 0; i < row.size(); ++i) out << (i > 0 ? "\t" : "") << row[i];
  out << '\n';
}

}  // namespace

std::size_t ColumnsOf(std::string_view text) {
  return static_cast<std::size_t>(std::count_if(text.begin(), text.end(), BeginsCodePoint));
}

void PrintTable(const Terminal& terminal, const Row& header, const std::vector<Row>& rows) {
  std::vector<Row> clean = rows;
  for (Row& row : clean) {
    for (std::string& cell : row) cell = Clean(cell);
  }
  if (!terminal.out_is_tty) {
    for (const Row& row : clean) PrintTabbed(terminal.out, row);
    return;
  }
  if (clean.empty()) return;
  std::vector<std::size_t> widths = WidthsOf(header, clean);
  Fit(widths, static_cast<std::size_t>(std::max(terminal.width, 40)));
  terminal.out << Toned(terminal, Tone::kSecondary, Aligned(header, widths)) << '\n';
  for (const Row& row : clean) terminal.out << Aligned(row, widths) << '\n';
}

void PrintFields(const Terminal& terminal, const std::vector<Field>& fields) {
  std::size_t widest = 0;
  for (const auto& [name, value] : fields) {
    if (!value.empty()) widest = std::max(widest, ColumnsOf(name));
  }
  for (const auto& [name, value] : fields) {
    if (value.empty()) continue;
    if (!terminal.out_is_tty) {
      terminal.out << name << '\t' << Clean(value) << '\n';
      continue;
    }
    const std::string padded = name + std::string(widest - ColumnsOf(name) + kGap, ' ');
    terminal.out << Toned(terminal, Tone::kSecondary, padded) << Clean(value) << '\n';
  }
}

}  // namespace broodpact::cli
