#include "cli/sheets/compare.h"

#include <algorithm>
#include <vector>

#include <fmt/format.h>

#include "cli/sheets/html.h"
#include "client/base/status.h"

namespace broodpact::cli {
namespace {

// A line of markup that a report quotes.
constexpr std::size_t kQuotedMax = 120;

// What a reader sees of a piece of a page, shortened.
std::string Seen(std::string_view markup) {
  std::string text;
  bool in_tag = false;
  for (const char c : markup) {
    if (c == '<') in_tag = true;
    if (!in_tag) text.push_back(c == '\n' ? ' ' : c);
    if (c != '>') continue;
    in_tag = false;
    if (!text.empty() && text.back() != ' ') text.push_back(' ');
  }
  while (!text.empty() && text.back() == ' ') text.pop_back();
  if (text.size() > kQuotedMax) text.resize(kQuotedMax);
  return text;
}

std::string_view FirstLineOf(std::string_view page) {
  const std::size_t end = page.find('\n');
  return page.substr(0, end == std::string_view::npos ? page.size() : end + 1);
}

// A paragraph without markup of its own.
bool IsPlain(std::string_view line) {
  constexpr std::string_view kOpen = "<p>";
  constexpr std::string_view kClose = "</p>\n";
  if (!line.starts_with(kOpen) || !line.ends_with(kClose)) return false;
  line.remove_prefix(kOpen.size());
  line.remove_suffix(kClose.size());
  return line.find('<') == std::string_view::npos;
}

std::string_view AfterPlainLines(std::string_view page) {
  while (IsPlain(FirstLineOf(page))) page.remove_prefix(FirstLineOf(page).size());
  return page;
}

// Takes the piece off the front of the page, as it is or as it may have been.
bool Take(const PageLine& piece, std::string_view& page) {
  const auto take = [&page](const std::string& text) {
    if (!page.starts_with(text)) return false;
    page.remove_prefix(text.size());
    return true;
  };
  return take(piece.text) || std::ranges::any_of(piece.before, take);
}

std::string Difference(std::string_view page, const PageLine& piece) {
  return fmt::format("it has \"{}\" where \"{}\" stands here", Seen(FirstLineOf(page)),
                     Seen(piece.text));
}

}  // namespace

absl::StatusOr<std::optional<std::string>> DifferenceOf(std::string_view page, const Sheet& sheet) {
  BP_ASSIGN_OR_RETURN(const std::vector<PageLine> pieces, PageOf(sheet));
  for (const PageLine& piece : pieces) {
    if (piece.passing == Passing::kMoves) {
      page = AfterPlainLines(page);
      continue;
    }
    if (Take(piece, page) || piece.passing == Passing::kGrows) continue;
    return std::optional<std::string>(Difference(page, piece));
  }
  if (page.empty()) return std::optional<std::string>();
  return std::optional<std::string>(
      fmt::format("it goes on with \"{}\" after its end", Seen(FirstLineOf(page))));
}

}  // namespace broodpact::cli
