#include "cli/expectations.h"

#include <fstream>
#include <sstream>

#include <fmt/format.h>

#include "client/base/status.h"

namespace broodpact::cli {

absl::StatusOr<std::optional<survival::Expectations>> OwnExpectations(const Desk& desk) {
  const std::filesystem::path path = desk.home.folder() / "expectations.tsv";
  std::ifstream file(path, std::ios::binary);
  if (!file) return std::optional<survival::Expectations>();
  std::ostringstream text;
  text << file.rdbuf();
  absl::StatusOr<survival::Expectations> table = survival::Expectations::Parse(text.str());
  if (!table.ok()) return Annotate(table.status(), fmt::format("reading {}", path.string()));
  return std::optional(*std::move(table));
}

}  // namespace broodpact::cli
