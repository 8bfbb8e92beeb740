// Goal: RULES.md is complete and true: every reason that the fold gives stands in it, and every
// test that it names exists. Method: reads the sources, the tests and the page.

#include <filesystem>
#include <fstream>
#include <regex>
#include <set>
#include <sstream>
#include <string>

#include "gtest/gtest.h"

namespace broodpact::registry {
namespace {

std::string ReadAll(const std::filesystem::path& file) {
  std::ifstream in(file);
  std::ostringstream text;
  text << in.rdbuf();
  return text.str();
}

std::string ReadFolder(const std::filesystem::path& folder) {
  std::string text;
  for (const auto& file : std::filesystem::directory_iterator(folder)) {
    if (file.path().extension() == ".cc") text += ReadAll(file.path());
  }
  return text;
}

std::set<std::string> Found(const std::string& text, const std::regex& pattern) {
  std::set<std::string> found;
  for (auto it = std::sregex_iterator(text.begin(), text.end(), pattern);
       it != std::sregex_iterator(); ++it) {
    found.insert((*it)[1].matched && (*it)[2].matched ? (*it)[1].str() + "." + (*it)[2].str()
                                                      : (*it)[1].str());
  }
  return found;
}

TEST(Rules, ListEveryReasonThatTheFoldGives) {
  const std::string sources = ReadFolder(BROODPACT_REGISTRY);
  const std::string rules = ReadAll(std::filesystem::path(BROODPACT_REGISTRY) / "RULES.md");
  ASSERT_FALSE(rules.empty());
  const std::set<std::string> reasons =
      Found(sources, std::regex("\"([A-Z]{2,}(?:_[A-Z]+)*)\"(?:,|\\))"));
  EXPECT_GT(reasons.size(), 40U);
  for (const std::string& reason : reasons) {
    if (reason == "STORE_DAMAGED") continue;  // an error of the source, no verdict
    EXPECT_NE(rules.find(reason), std::string::npos) << reason << " is not in RULES.md";
  }
}

TEST(Rules, NameTestsThatExist) {
  const std::string rules = ReadAll(std::filesystem::path(BROODPACT_REGISTRY) / "RULES.md");
  const std::set<std::string> exist = Found(ReadFolder(BROODPACT_REGISTRY_TESTS),
                                            std::regex("TEST(?:_[FP])?\\((\\w+),\\s+(\\w+)\\)"));
  const std::set<std::string> named =
      Found(rules, std::regex("`([A-Z][a-zA-Z]+)\\.([A-Z][a-zA-Z]+)`"));
  EXPECT_GT(named.size(), 50U);
  for (const std::string& test : named) EXPECT_TRUE(exist.contains(test)) << test;
}

}  // namespace
}  // namespace broodpact::registry
