#include "tests/replica/testing/surroundings.h"

#include <cstdlib>
#include <system_error>

#include "client/base/check.h"
#include <unistd.h>

namespace broodpact::testing {

namespace {

// Memory where the machine has a folder in it: these tests are not about the disk.
std::filesystem::path Parent() {
  const std::filesystem::path memory = "/dev/shm";
  return access(memory.c_str(), W_OK) == 0 ? memory : std::filesystem::temp_directory_path();
}

}  // namespace

TempFolder::TempFolder() {
  std::string name = (Parent() / "broodpact-test-XXXXXX").string();
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
