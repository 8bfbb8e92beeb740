// Goal: the command line reads as documented, refuses what is not meant, and everything that
// describes it (help, man pages, completion) covers every command in the trade's words. Method:
// the whole tree of commands, walked; and the man pages that are checked in.

#include <fstream>
#include <functional>
#include <sstream>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "cli/commands/all.h"
#include "cli/grammar/completion.h"
#include "cli/grammar/help.h"
#include "cli/grammar/man.h"
#include "client/base/status.h"

namespace broodpact::cli {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

class GrammarTest : public ::testing::Test {
 protected:
  absl::StatusOr<std::string> PathOf(const std::vector<std::string>& arguments) {
    absl::StatusOr<const Command*> command = Parse(*root_, globals_, arguments);
    if (!command.ok()) return command.status();
    return (*command)->path();
  }

  std::string ErrorOf(const std::vector<std::string>& arguments) {
    const absl::Status status = Parse(*root_, globals_, arguments).status();
    EXPECT_EQ(ReasonOf(status), "USAGE");
    return std::string(status.message().data(), status.message().size());
  }

  // Every command that is shown.
  void ForEach(const std::function<void(const Command&)>& visit) { Walk(*root_, visit); }

  static void Walk(const Command& command, const std::function<void(const Command&)>& visit) {
    if (command.hidden()) return;
    visit(command);
    for (const auto& below : command.commands()) Walk(*below, visit);
  }

  Globals globals_;
  std::unique_ptr<Command> root_ = AllCommands(globals_);
};

TEST_F(GrammarTest, HasEveryVerbOfTheTrade) {
  for (const char* const verb :
       {"start",          "found",          "invite",        "join",         "sync",
        "status",         "keeper list",    "keeper show",   "group add",    "group list",
        "group show",     "animal add",     "animal list",   "animal show",  "animal moult",
        "animal matured", "animal sexed",   "animal died",   "animal give",  "loan offer",
        "loan ask",       "loan accept",    "loan decline",  "loan send",    "loan receive",
        "loan return",    "loan close",     "loan list",     "loan show",    "pair",
        "sac laid",       "sac pulled",     "sac lost",      "count",        "split",
        "lot list",       "lot give",       "lot receive",   "lot lose",     "lot raise",
        "find male",      "find female",    "kin",           "clashes",      "log",
        "verify",         "rebuild",        "object",        "clash show",   "clash settle",
        "clash sign",     "clash withdraw", "share decline", "share pass",   "sac late",
        "sac give",       "sac accept",     "animal accept", "keeper leave", "lot show",
        "lot return",     "lot pass",       "lot divide",    "lot merge",    "owed",
        "loan sheet",     "loan check",     "split sheet",   "split check",  "kin chart",
        "group name",     "group split",    "group merge"}) {
    std::istringstream words(verb);
    std::vector<std::string> arguments{std::istream_iterator<std::string>(words), {}};
    arguments.emplace_back("--help");
    const absl::StatusOr<std::string> path = PathOf(arguments);
    ASSERT_TRUE(path.ok()) << verb << ": " << path.status();
    EXPECT_EQ(*path, verb);
  }
}

TEST_F(GrammarTest, TakesGlobalOptionsBeforeAndAfterTheCommand) {
  ASSERT_TRUE(PathOf({"--json", "animal", "list", "--home", "folder"}).ok());
  EXPECT_TRUE(globals_.json);
  EXPECT_EQ(globals_.home, "folder");
}

TEST_F(GrammarTest, LetsAnAnimalBeCalledLikeACommand) {
  for (const char* const name : {"pair", "list", "loan", "count", "help"}) {
    const absl::StatusOr<std::string> path = PathOf({"animal", "show", name});
    ASSERT_TRUE(path.ok()) << path.status();
    EXPECT_EQ(*path, "animal show") << name;
  }
}

TEST_F(GrammarTest, SaysWhichCommandMayHaveBeenMeant) {
  EXPECT_EQ(ErrorOf({"anmal", "list"}),
            "there is no command 'anmal'; did you mean 'animal'?; see broodpact --help");
  EXPECT_EQ(ErrorOf({"loan", "ofer"}),
            "there is no command 'loan ofer'; did you mean 'offer'?; see broodpact loan --help");
  EXPECT_THAT(ErrorOf({"zzzzzz"}), Not(HasSubstr("did you mean")));
}

TEST_F(GrammarTest, SaysWhatIsMissingTooMuchOrUnknown) {
  EXPECT_EQ(ErrorOf({"loan", "offer", "bh-m-07"}),
            "--to <keeper> is missing: Keeper who takes it; see broodpact loan offer --help");
  EXPECT_THAT(ErrorOf({"animal", "show"}), HasSubstr("<animal> is missing"));
  EXPECT_THAT(ErrorOf({"animal", "show", "a", "b"}), HasSubstr("'b' was not expected"));
  EXPECT_THAT(ErrorOf({"animal", "show", "a", "--wrong"}), HasSubstr("--wrong"));
  EXPECT_THAT(ErrorOf({"animal", "sexed", "a", "boy"}),
              HasSubstr("sex can be female, male, unknown, not 'boy'"));
  EXPECT_THAT(ErrorOf({"loan", "offer", "a", "--to", "x", "--to", "y"}), HasSubstr("once"));
}

TEST_F(GrammarTest, TakesNoEmptyDayForToday) {
  EXPECT_THAT(ErrorOf({"animal", "died", "rosa", "--on", ""}), HasSubstr("--on is empty"));
  EXPECT_THAT(ErrorOf({"status", "--home", ""}), HasSubstr("--home is empty"));
  EXPECT_THAT(ErrorOf({"lot", "give", "f3kq", "--to", ""}), HasSubstr("say a keeper"));
  EXPECT_TRUE(PathOf({"animal", "died", "rosa", "--cause", ""}).ok());
}

TEST_F(GrammarTest, SaysHowLargeANumberMayBe) {
  EXPECT_THAT(ErrorOf({"animal", "moult", "rosa", "--number", "4294967296"}),
              HasSubstr("from 0 to 4294967295"));
  EXPECT_THAT(ErrorOf({"count", "C1", "--living", "-1", "--dead", "0"}), HasSubstr("not '-1'"));
}

TEST_F(GrammarTest, TakesNoLimitOfNone) {
  EXPECT_THAT(ErrorOf({"find", "male", "--for", "rosa", "--limit", "0"}),
              HasSubstr("--limit wants a whole number from 1 to 4294967295, not '0'"));
  EXPECT_TRUE(PathOf({"find", "male", "--for", "rosa", "--limit", "1"}).ok());
}

TEST_F(GrammarTest, ExplainsACommandByAllItsWords) {
  EXPECT_EQ(*PathOf({"help", "loan", "offer"}), "help");
  EXPECT_EQ(*PathOf({"help"}), "help");
  EXPECT_EQ(*PathOf({"help", "json"}), "help");
}

TEST_F(GrammarTest, ReadsNumbersInDecimalOnly) {
  for (const char* const text : {"x", "-1", "1.5", "0x10", "4294967296", ""}) {
    EXPECT_THAT(ErrorOf({"log", "--limit=" + std::string(text)}), HasSubstr("--limit")) << text;
  }
  std::optional<std::uint32_t> number;
  Command root("broodpact", "");
  root.Number("--n", "n", number, "");
  root.SetRun([](const Desk&) { return absl::OkStatus(); });
  ASSERT_TRUE(Parse(root, globals_, {"--n", "010"}).ok());
  EXPECT_EQ(number, 10U);
}

TEST_F(GrammarTest, KeepsRepeatedOptionsInOrderAndLeavesPositionalsAlone) {
  std::vector<std::string> shares;
  std::string animal;
  Command root("broodpact", "");
  root.Options("--share", "keeper=weight", shares, "");
  root.Positional("animal", animal, "");
  root.SetRun([](const Desk&) { return absl::OkStatus(); });
  ASSERT_TRUE(Parse(root, globals_, {"--share", "b=1", "--share", "a=2", "rosa"}).ok());
  EXPECT_THAT(shares, testing::ElementsAre("b=1", "a=2"));
  EXPECT_EQ(animal, "rosa");
}

TEST_F(GrammarTest, HelpHasASummaryAndAnExampleForEveryCommand) {
  ForEach([](const Command& command) {
    EXPECT_LE(command.summary().size(), 60U) << command.path();
    EXPECT_FALSE(command.summary().ends_with('.')) << command.path();
    const std::string help = HelpOf(command);
    std::istringstream lines(help);
    for (std::string line; std::getline(lines, line);) {
      const bool is_example = line.starts_with("  broodpact ");
      EXPECT_TRUE(line.size() <= 80U || is_example) << line;
    }
    if (!command.runs()) return;
    ASSERT_FALSE(command.examples().empty()) << command.path();
    const std::string call = "broodpact " + command.path();
    EXPECT_NE(command.examples().front().line.find(call), std::string::npos)
        << command.path() << " has an example of another command";
  });
}

TEST_F(GrammarTest, HelpExamplesParse) {
  ForEach([this](const Command& command) {
    for (const Example& example : command.examples()) {
      // The first of several commands, up to what is the shell's business.
      std::string line = example.line.substr(0, example.line.find_first_of("&<>"));
      std::vector<std::string> arguments;
      std::istringstream words(line);
      for (std::string word; words >> std::quoted(word);) arguments.push_back(word);
      arguments.erase(arguments.begin());
      Globals globals;
      const auto root = AllCommands(globals);
      const absl::Status status = Parse(*root, globals, arguments).status();
      EXPECT_TRUE(status.ok()) << example.line << ": " << status;
    }
  });
}

TEST_F(GrammarTest, HelpKeepsToTheWordsOfTheTrade) {
  std::string all;
  ForEach([&](const Command& command) { all += HelpOf(command) + "\n"; });
  for (const std::string& topic : HelpTopics()) all += HelpOfTopic(topic);
  std::transform(all.begin(), all.end(), all.begin(),
                 [](unsigned char c) { return std::tolower(c); });
  for (const char* const word : {"spiderling", "user", "database", "egg sac", "eggsac", "mating",
                                 "molt ", "instar", "owner's manual", "specimen", "contract",
                                 "customer", "rebase", "conflict", "transaction", "blockchain"}) {
    EXPECT_EQ(all.find(word), std::string::npos) << word;
  }
}

TEST_F(GrammarTest, HelpHasItsTopics) {
  for (const std::string& topic : HelpTopics()) EXPECT_FALSE(HelpOfTopic(topic).empty()) << topic;
  EXPECT_TRUE(HelpOfTopic("nothing").empty());
}

TEST_F(GrammarTest, ManPagesAreFresh) {
  for (const auto& [name, page] : ManPagesOf(*root_)) {
    std::ifstream file(std::string(BROODPACT_MAN) + "/" + name);
    std::stringstream checked_in;
    checked_in << file.rdbuf();
    EXPECT_EQ(checked_in.str(), page) << "write them again: broodpact man --into cli/man";
  }
}

TEST_F(GrammarTest, CompletionKnowsEveryCommandAndOption) {
  for (const char* const shell : {"bash", "zsh", "fish"}) {
    const std::string script = CompletionOf(*root_, shell);
    ForEach([&](const Command& command) {
      for (const auto& argument : command.arguments()) {
        if (!argument->is_option()) continue;
        EXPECT_NE(script.find(argument->name.substr(2)), std::string::npos)
            << shell << ": " << command.path() << " " << argument->name;
      }
      EXPECT_NE(script.find(command.name()), std::string::npos) << shell << command.path();
    });
  }
  EXPECT_EQ(CompletionOf(*root_, "powershell"), "");
}

}  // namespace
}  // namespace broodpact::cli
