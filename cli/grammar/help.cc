#include "cli/grammar/help.h"

#include <algorithm>

#include <fmt/format.h>

#include "cli/terminal/exit_code.h"

namespace broodpact::cli {
namespace {

constexpr std::size_t kWidth = 80;
constexpr std::size_t kNameColumnMax = 26;

std::string LabelOf(const Argument& argument) {
  if (!argument.is_option()) return fmt::format("<{}>", argument.name);
  if (argument.is_flag()) return argument.name;
  return fmt::format("{} <{}>", argument.name, argument.value);
}

std::string HelpTextOf(const Argument& argument) {
  if (argument.choices.empty()) return argument.help;
  return fmt::format("{}: {}", argument.help, fmt::join(argument.choices, ", "));
}

bool IsRepeatable(const Argument& argument) {
  return std::holds_alternative<std::vector<std::string>*>(argument.target);
}

// "  label   text", the text wrapped under itself.
std::string Entry(const std::string& label, const std::string& text, std::size_t column) {
  std::string lines = Wrapped(text, kWidth, column);
  if (label.size() + 4 > column) return fmt::format("  {}\n{}", label, lines);
  return fmt::format("  {:<{}}{}", label, column - 2, lines.substr(column));
}

std::string Entries(const std::vector<std::pair<std::string, std::string>>& entries) {
  std::size_t column = 0;
  for (const auto& [label, text] : entries) column = std::max(column, label.size() + 4);
  column = std::min(column, kNameColumnMax);
  std::string page;
  for (const auto& [label, text] : entries) page += Entry(label, text, column);
  return page;
}

std::string ArgumentsOf(const Command& command) {
  std::vector<std::pair<std::string, std::string>> entries;
  for (const auto& argument : command.arguments()) {
    entries.emplace_back(LabelOf(*argument), HelpTextOf(*argument));
  }
  return entries.empty() ? "" : "\n" + Entries(entries);
}

std::string CommandsOf(const Command& command) {
  std::vector<std::pair<std::string, std::string>> entries;
  for (const auto& below : command.commands()) {
    if (!below->hidden()) entries.emplace_back(below->name(), below->summary());
  }
  return entries.empty() ? "" : "\nCommands:\n" + Entries(entries);
}

std::string ExamplesOf(const Command& command) {
  if (command.examples().empty()) return "";
  std::string page = "\nExamples:\n";
  for (const Example& example : command.examples()) {
    page += fmt::format("  # {}\n  {}\n", example.comment, example.line);
  }
  return page;
}

constexpr std::string_view kEnvironment = R"(Environment

  BROODPACT_HOME  Folder of the keeper: its key, its replica, its way to the server.
                  Default: ~/.broodpact. The option --home says the same, and wins.
  NO_COLOR        Set and not empty: no colour. So does --no-color, and TERM=dumb.
  COLUMNS         Width of tables, where the terminal does not say.
  TZ              Whose midnight makes a day: "today" is the day on this machine's wall.

No secret is read from the environment.
)";

constexpr std::string_view kJson = R"(JSON

Every command takes --json, and prints the registry message that its table shows, in
protobuf's JSON mapping: field names as in proto/broodpact/v1/registry.proto, zeros and empty
texts printed, one document a command on one line. `sync --follow` prints one document a line
for each arrival.

Ids are text, days are ISO 8601-2, instants RFC 3339 in UTC, counts are JSON numbers. Fields
are added, never changed or taken away: ignore those that you do not know.

An error is one line on standard error, and the exit code says its class:
  {"error":{"reason":"UNKNOWN_SUBJECT","message":"...","exit":3}}
)";

constexpr std::string_view kWords = R"(Words

  keeper       a member; owns one or more devices
  device       one key and one chain of commits
  registrar    a keeper who lets others in
  group        a breeding group: taxon, locality and line, managed as one population
  animal       one individual; its owner and its holder may be two keepers
  loan         an animal goes to another keeper for breeding, on terms that all parties sign
  terms        how the slings are shared: a small clutch, first claims, then shares of the rest
  pairing      a male was put to a female
  interval     a female's time between two moults; a moult sheds the stored sperm
  sac          what she lays; once laid it is a clutch, with its possible sires
  count        slings living and dead on a day
  split        who gets how many slings, as the signed terms say, with the working
  lot          a number of unsexed slings of one clutch in one keeper's hands
  parcel       a lot on its way to another keeper
  handover     sent by one keeper, received by another: a receipt says what arrived
  commit       what one command recorded: signed, chained, whole or not at all
  arrival      a commit's place in the order that all replicas share
  verdict      what became of a commit: counted, superseded, refused, void or held
  provisional  recorded here, and not delivered yet: it may still be beaten
  clash        two statements that cannot both stand; shown to its parties until settled

Subjects are named by short name, by keeper/name, or by the beginning of the id (4 characters
or more). Days are written 2026-11-25, 2026-11 or 2026; with ? where you are not sure, ~ where
it was about then; or as a span, 2026-11-20/2026-11-25.
)";

}  // namespace

std::string Wrapped(std::string_view text, std::size_t width, std::size_t indent) {
  std::string page;
  std::string line(indent, ' ');
  while (!text.empty()) {
    const std::size_t end = std::min(text.find(' '), text.size());
    const std::string_view word = text.substr(0, end);
    text.remove_prefix(std::min(end + 1, text.size()));
    const bool begins = line.size() == indent;
    if (!begins && line.size() + 1 + word.size() > width) {
      page += line + "\n";
      line.assign(indent, ' ');
    }
    if (line.size() > indent) line += ' ';
    line += word;
  }
  return page + line + "\n";
}

std::string UsageOf(const Command& command) {
  const std::string path = command.path();
  std::string usage = path.empty() ? "broodpact" : "broodpact " + path;
  if (!command.runs()) return usage + " <command>";
  for (const auto& argument : command.arguments()) {
    const std::string label = LabelOf(*argument) + (IsRepeatable(*argument) ? "..." : "");
    usage += argument->required ? " " + label : fmt::format(" [{}]", label);
  }
  return usage;
}

std::string HelpOf(const Command& command) {
  std::string page = command.summary() + "\n";
  for (const std::string& note : command.notes()) page += "\n" + Wrapped(note, kWidth, 0);
  const std::string usage = Wrapped("Usage: " + UsageOf(command), kWidth, 0);
  page += "\n" + usage;
  page += CommandsOf(command);
  page += ArgumentsOf(command);
  page += ExamplesOf(command);
  if (!command.path().empty()) {
    page += "\nEvery command also takes --json, --home <folder> and --no-color.\n";
  } else {
    page += "\n" + Wrapped(fmt::format("More: broodpact <command> --help, broodpact help {}",
                                       fmt::join(HelpTopics(), ", broodpact help ")),
                           kWidth, 0);
  }
  return page;
}

std::vector<std::string> HelpTopics() {
  return {"exit-codes", "environment", "json", "words"};
}

std::string HelpOfTopic(std::string_view topic) {
  if (topic == "exit-codes") return ExitCodeHelp();
  if (topic == "environment") return std::string(kEnvironment);
  if (topic == "json") return std::string(kJson);
  if (topic == "words") return std::string(kWords);
  return {};
}

}  // namespace broodpact::cli
