// Goal: the laws of splits run on 1,000 cases each, not on the library's 100. Method: a default for
// RC_PARAMS, set before the first law reads it; what the caller has set stands.

#include <cstdlib>

#include <gtest/gtest.h>

namespace broodpact {
namespace {

class LawCases : public ::testing::Environment {
 public:
  void SetUp() override {
    constexpr int kKeepWhatIsSet = 0;
    // NOLINTNEXTLINE(concurrency-mt-unsafe): runs before any test, in the only thread.
    ASSERT_EQ(setenv("RC_PARAMS", "max_success=1000", kKeepWhatIsSet), 0);
  }
};

// The test framework owns it.
const auto* const kLawCases = ::testing::AddGlobalTestEnvironment(new LawCases);

}  // namespace
}  // namespace broodpact
