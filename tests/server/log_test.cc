// Goal: one event is one line, whatever is in its values. Method: lines by hand.

#include "server/log.h"

#include <sstream>

#include <gtest/gtest.h>

namespace broodpact::server {
namespace {

class FixedClock final : public device::Clock {
 public:
  std::int64_t NowMillis() const override { return 1'795'599'000'123; }
  Day Today() const override { return DayOfMillis(NowMillis()); }
};

std::string LineOf(Level least, Level level, const std::string& value) {
  const FixedClock clock;
  std::ostringstream out;
  Log(out, least, clock).Write(level, "joined", {{"device", value}, {"commits", "3"}});
  return out.str();
}

TEST(Log, WritesTimeLevelEventAndFields) {
  EXPECT_EQ(LineOf(Level::kInfo, Level::kInfo, "abc"),
            InstantText(FixedClock().NowMillis()) + " info joined device=abc commits=3\n");
}

TEST(Log, QuotesWhatIsNotPlain) {
  const auto quoted = [](const std::string& value) {
    const std::string line = LineOf(Level::kInfo, Level::kWarn, value);
    const std::size_t begin = line.find("device=") + 7;
    return line.substr(begin, line.rfind(" commits=") - begin);
  };
  EXPECT_EQ(quoted("two words"), "\"two words\"");
  EXPECT_EQ(quoted(""), "\"\"");
  EXPECT_EQ(quoted("a\"b\\c"), "\"a\\\"b\\\\c\"");
  EXPECT_EQ(quoted("line\nnext"), "\"line\\x0anext\"");
  EXPECT_EQ(quoted("a=b"), "\"a=b\"");
}

TEST(Log, LeavesOutWhatIsBelowItsLevel) {
  EXPECT_EQ(LineOf(Level::kWarn, Level::kInfo, "abc"), "");
  EXPECT_NE(LineOf(Level::kWarn, Level::kError, "abc"), "");
}

TEST(Log, KnowsItsLevelsByName) {
  EXPECT_EQ(ParseLevel("debug"), Level::kDebug);
  EXPECT_EQ(ParseLevel("error"), Level::kError);
  EXPECT_EQ(ParseLevel("loud"), std::nullopt);
}

}  // namespace
}  // namespace broodpact::server
