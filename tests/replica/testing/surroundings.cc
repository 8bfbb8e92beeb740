#include "tests/replica/testing/surroundings.h"

#include <cstdlib>
#include <system_error>

#include "client/base/check.h"

namespace broodpact::testing {

TempFolder::TempFolder() {
  std::string name = (std::filesystem::temp_directory_path() / "broodpact-test-XXXXXX").string();
  BP_CHECK(mkdtemp(name.data()) != nullptr);
  path_ = name;
}

TempFolder::~TempFolder() {
  std::error_code ignored;  // a folder that stays is no reason to fail a test
  std::filesystem::remove_all(path_, ignored);
}

DaySpan On(std::string_view text) {
  const absl::StatusOr<DaySpan> span = ParseDaySpan(text);
  BP_CHECK(span.ok());
  return *span;
}

Day DayOn(std::string_view text) {
  const absl::StatusOr<Day> day = ParseDay(text);
  BP_CHECK(day.ok());
  return *day;
}

}  // namespace broodpact::testing
