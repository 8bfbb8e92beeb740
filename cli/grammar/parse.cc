#include "cli/grammar/parse.h"

#include <algorithm>
#include <charconv>
#include <limits>
#include <map>
#include <numeric>
#include <string_view>

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include "client/base/status.h"
#include "client/base/text.h"

namespace broodpact::cli {
namespace {

// What CLI11 read for one argument: its texts, in order.
struct Reading {
  const Argument* argument = nullptr;
  std::vector<std::string> texts;
  bool set = false;
};

// A command beside its CLI11 twin.
struct Twin {
  const Command* command = nullptr;
  const CLI::App* app = nullptr;
  std::vector<std::unique_ptr<Reading>> readings;
};

std::string CallOf(const Command& command) {
  const std::string path = command.path();
  return path.empty() ? "broodpact" : "broodpact " + path;
}

absl::Status UsageError(const Command& command, std::string_view what) {
  return Fail(absl::StatusCode::kInvalidArgument, "USAGE",
              fmt::format("{}; see {} --help", what, CallOf(command)));
}

// More words than the path of any command has.
constexpr int kWordsMax = 8;

void AddTwin(const Command& command, CLI::App& app, std::vector<std::unique_ptr<Twin>>& twins) {
  twins.push_back(std::make_unique<Twin>());
  Twin& twin = *twins.back();
  twin.command = &command;
  twin.app = &app;
  app.set_help_flag();
  app.fallthrough();
  app.require_subcommand(0, 1);  // so that an animal may be called like a command
  for (const auto& argument : command.arguments()) {
    twin.readings.push_back(std::make_unique<Reading>());
    Reading& reading = *twin.readings.back();
    reading.argument = argument.get();
    const std::string name = argument->name == "--help" ? "-h,--help" : argument->name;
    if (argument->is_flag()) {
      app.add_flag_callback(name, [&reading] { reading.set = true; });
    } else if (argument->is_words()) {
      app.add_option(name, reading.texts)->expected(1, kWordsMax);
    } else {
      app.add_option(name, reading.texts)
          ->expected(1)
          ->allow_extra_args(false)
          ->multi_option_policy(CLI::MultiOptionPolicy::TakeAll);
    }
  }
  for (const auto& below : command.commands()) {
    AddTwin(*below, *app.add_subcommand(below->name()), twins);
  }
}

constexpr std::uint32_t kNumberMax = std::numeric_limits<std::uint32_t>::max();

absl::Status SetNumber(const Command& command, const Argument& argument, const std::string& text,
                       std::optional<std::uint32_t>& target) {
  std::uint32_t number = 0;
  const char* const end = text.data() + text.size();
  const auto [stop, error] = std::from_chars(text.data(), end, number);
  if (text.empty() || stop != end || error != std::errc() || number < argument.least) {
    return UsageError(command, fmt::format("{} wants a whole number from {} to {}, not '{}'",
                                           argument.name, argument.least, kNumberMax, text));
  }
  target = number;
  return absl::OkStatus();
}

// Text that is no UTF-8 gets no further than here. Folders are bytes.
absl::Status CheckUtf8(const Argument& argument, const std::string& text) {
  if (argument.value == "folder" || IsUtf8(text)) return absl::OkStatus();
  return Fail(
      absl::StatusCode::kInvalidArgument, "TEXT_MALFORMED",
      fmt::format("{} is not UTF-8 text; look at the encoding of your terminal", argument.name));
}

// A day, a folder or a subject is never empty: what stands there is a variable of a script that was
// not set, and must not be taken for "today" or "mine". Names and remarks may be empty.
absl::Status CheckNotEmpty(const Command& command, const Argument& argument,
                           const std::string& text) {
  const bool may_be_empty =
      !argument.is_option() || argument.value == "text" || argument.value == "name";
  if (!text.empty() || may_be_empty) return absl::OkStatus();
  return UsageError(command, fmt::format("{} is empty; say a {}, or leave it out", argument.name,
                                         argument.value));
}

absl::Status CheckChoice(const Command& command, const Argument& argument,
                         const std::string& text) {
  const std::vector<std::string>& choices = argument.choices;
  if (choices.empty() || std::find(choices.begin(), choices.end(), text) != choices.end()) {
    return absl::OkStatus();
  }
  return UsageError(command, fmt::format("{} can be {}, not '{}'", argument.name,
                                         fmt::join(choices, ", "), text));
}

absl::Status SetTarget(const Command& command, const Reading& reading) {
  const Argument& argument = *reading.argument;
  if (argument.is_flag()) {
    if (reading.set) *std::get<bool*>(argument.target) = true;
    return absl::OkStatus();
  }
  for (const std::string& text : reading.texts) {
    BP_RETURN_IF_ERROR(CheckUtf8(argument, text));
    BP_RETURN_IF_ERROR(CheckNotEmpty(command, argument, text));
    BP_RETURN_IF_ERROR(CheckChoice(command, argument, text));
  }
  if (auto* const texts = std::get_if<std::vector<std::string>*>(&argument.target)) {
    **texts = reading.texts;
    return absl::OkStatus();
  }
  if (reading.texts.empty()) return absl::OkStatus();
  if (reading.texts.size() > 1) {
    return UsageError(command, fmt::format("{} can be said once only", argument.name));
  }
  if (auto* const number = std::get_if<std::optional<std::uint32_t>*>(&argument.target)) {
    return SetNumber(command, argument, reading.texts.front(), **number);
  }
  *std::get<std::string*>(argument.target) = reading.texts.front();
  return absl::OkStatus();
}

absl::Status CheckRequired(const Twin& twin) {
  for (const auto& reading : twin.readings) {
    const Argument& argument = *reading->argument;
    if (!argument.required || !reading->texts.empty()) continue;
    const std::string what = argument.is_option()
                                 ? fmt::format("{} <{}>", argument.name, argument.value)
                                 : fmt::format("<{}>", argument.name);
    return UsageError(*twin.command, fmt::format("{} is missing: {}", what, argument.help));
  }
  return absl::OkStatus();
}

// Levenshtein's distance.
std::size_t DistanceOf(std::string_view a, std::string_view b) {
  std::vector<std::size_t> row(b.size() + 1);
  std::iota(row.begin(), row.end(), std::size_t{0});
  for (std::size_t i = 0; i < a.size(); ++i) {
    std::size_t diagonal = row[0];
    row[0] = i + 1;
    for (std::size_t j = 0; j < b.size(); ++j) {
      const std::size_t change = diagonal + (a[i] == b[j] ? 0 : 1);
      diagonal = row[j + 1];
      row[j + 1] = std::min({row[j] + 1, row[j + 1] + 1, change});
    }
  }
  return row.back();
}

// A word that no command expects, with the nearest one that it may have meant.
std::string Unexpected(const Command& command, const std::string& word) {
  if (command.runs()) return fmt::format("'{}' was not expected", word);
  std::string nearest;
  std::size_t distance = 3;  // further away, a guess only confuses
  for (const auto& below : command.commands()) {
    if (below->hidden()) continue;
    const std::size_t to_it = DistanceOf(word, below->name());
    if (to_it >= distance) continue;
    distance = to_it;
    nearest = below->name();
  }
  const std::string path = command.path();
  return fmt::format("there is no command '{}{}{}'{}", path, path.empty() ? "" : " ", word,
                     nearest.empty() ? "" : fmt::format("; did you mean '{}'?", nearest));
}

// The command that was called: the deepest that CLI11 has seen.
const Twin& CalledOf(const std::vector<std::unique_ptr<Twin>>& twins) {
  const Twin* called = twins.front().get();
  for (const auto& twin : twins) {
    if (twin->app->parsed()) called = twin.get();  // parents come before what is below them
  }
  return *called;
}

std::string FirstOf(std::string_view text) {
  return std::string(text.substr(0, text.find('\n')));
}

absl::Status ParseTexts(CLI::App& app, const std::vector<std::unique_ptr<Twin>>& twins,
                        const std::vector<std::string>& arguments) {
  std::vector<std::string> reversed(arguments.rbegin(), arguments.rend());  // as CLI11 wants it
  try {
    app.parse(reversed);
  } catch (const CLI::ParseError& error) {
    return UsageError(*CalledOf(twins).command, FirstOf(error.what()));
  }
  return absl::OkStatus();
}

}  // namespace

void DescribeGlobals(Command& root, Globals& globals) {
  root.Flag("--json", globals.json, "Print the registry message as JSON");
  root.Option("--home", "folder", globals.home,
              "Folder of the keeper (default: BROODPACT_HOME, else ~/.broodpact)");
  root.Flag("--no-color", globals.no_color, "Print no colour (also: NO_COLOR)");
  root.Flag("--help", globals.help, "Explain the command");
  root.Flag("--version", globals.version, "Say which version this is");
}

absl::StatusOr<const Command*> Parse(const Command& root, const Globals& globals,
                                     const std::vector<std::string>& arguments) {
  CLI::App app;
  app.allow_extras();
  std::vector<std::unique_ptr<Twin>> twins;
  AddTwin(root, app, twins);
  BP_RETURN_IF_ERROR(ParseTexts(app, twins, arguments));
  const Twin& called = CalledOf(twins);
  for (const auto& twin : twins) {
    if (twin.get() != &called && twin->command != &root) continue;
    for (const auto& reading : twin->readings) {
      BP_RETURN_IF_ERROR(SetTarget(*called.command, *reading));
    }
  }
  const std::vector<std::string> extras = app.remaining(true);
  if (!extras.empty()) {
    return UsageError(*called.command, Unexpected(*called.command, extras.front()));
  }
  if (!globals.help && !globals.version) BP_RETURN_IF_ERROR(CheckRequired(called));
  return called.command;
}

}  // namespace broodpact::cli
