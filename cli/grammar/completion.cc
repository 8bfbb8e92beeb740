#include "cli/grammar/completion.h"

#include <map>
#include <vector>

#include <fmt/format.h>

namespace broodpact::cli {
namespace {

// The list that has the names of a kind of value; empty: free text.
std::string_view ListOf(std::string_view value) {
  static const std::map<std::string_view, std::string_view> lists = {
      {"animal", "animal list"}, {"male", "animal list"},   {"female", "animal list"},
      {"first", "animal list"},  {"second", "animal list"}, {"keeper", "keeper list"},
      {"group", "group list"},   {"loan", "loan list"},     {"clutch", "sac list"},
      {"lot", "lot list"},       {"parcel", "lot list"}};
  const auto list = lists.find(value);
  return list == lists.end() ? std::string_view() : list->second;
}

// Every command that is shown, the root first.
void Collect(const Command& command, std::vector<const Command*>& all) {
  if (command.hidden()) return;
  all.push_back(&command);
  for (const auto& below : command.commands()) Collect(*below, all);
}

std::vector<const Command*> AllOf(const Command& root) {
  std::vector<const Command*> all;
  Collect(root, all);
  return all;
}

// What may come next at a command: those below it, its options, the choices of positionals.
std::vector<std::string> WordsAt(const Command& command) {
  std::vector<std::string> words;
  for (const auto& below : command.commands()) {
    if (!below->hidden()) words.push_back(below->name());
  }
  for (const auto& argument : command.arguments()) {
    if (argument->is_option()) {
      words.push_back(argument->name);
    } else {
      words.insert(words.end(), argument->choices.begin(), argument->choices.end());
    }
  }
  return words;
}

// The list of the first positional that has one.
std::string_view PositionalListOf(const Command& command) {
  for (const auto& argument : command.arguments()) {
    if (!argument->is_option() && !ListOf(argument->value).empty()) return ListOf(argument->value);
  }
  return {};
}

constexpr std::string_view kBashBegin =
    R"sh(# Completion for broodpact: source this, or put it where
# your shell looks for completions.
_broodpact() {
  local cur=${COMP_WORDS[COMP_CWORD]} prev=${COMP_WORDS[COMP_CWORD-1]}
  local path="" word i words="" list=""
  for ((i = 1; i < COMP_CWORD; i++)); do
    word=${COMP_WORDS[i]}
    case "$word" in -*) continue ;; esac
    case " $paths_known " in *" ${path:+$path/}$word "*) path="${path:+$path/}$word" ;; esac
  done
)sh";

constexpr std::string_view kBashEnd = R"sh(  if [ -n "$list" ]; then
    words="$words $(broodpact $list 2>/dev/null | cut -f1)" fi COMPREPLY =
    ($(compgen - W "$words" --"$cur"))
}
complete -F _broodpact broodpact
)sh";

std::string SlashPath(const Command& command) {
  std::string path = command.path();
  for (char& c : path) {
    if (c == ' ') c = '/';
  }
  return path;
}

std::string BashOf(const Command& root) {
  const std::vector<const Command*> all = AllOf(root);
  std::string known;
  std::string at;
  std::string behind;
  for (const Command* command : all) {
    const std::string path = SlashPath(*command);
    if (!path.empty()) known += (known.empty() ? "" : " ") + path;
    at += fmt::format("    \"{}\") words=\"{}\" list=\"{}\" ;;\n", path,
                      fmt::join(WordsAt(*command), " "), PositionalListOf(*command));
    for (const auto& argument : command->arguments()) {
      if (!argument->is_option() || argument->is_flag()) continue;
      behind += fmt::format("    \"{} {}\") words=\"{}\" list=\"{}\" ;;\n", path, argument->name,
                            fmt::join(argument->choices, " "), ListOf(argument->value));
    }
  }
  std::string script(kBashBegin);
  const std::string declaration = fmt::format("  local paths_known=\"{}\"\n", known);
  script.insert(script.find("  for (("), declaration);
  script += "  case \"$path\" in\n" + at + "  esac\n";
  script += "  case \"$path $prev\" in\n" + behind + "  esac\n";
  return script + std::string(kBashEnd);
}

std::string FishQuoted(std::string_view text) {
  std::string quoted = "'";
  for (const char c : text) {
    if (c == '\'' || c == '\\') quoted += '\\';
    quoted += c;
  }
  return quoted + "'";
}

std::string FishLine(const Command& at, const std::string& rest) {
  return fmt::format("complete -c broodpact -n {} {}\n",
                     FishQuoted(fmt::format("test (__broodpact_path) = \"{}\"", SlashPath(at))),
                     rest);
}

std::string FishOfArgument(const Command& command, const Argument& argument) {
  const std::string_view list = ListOf(argument.value);
  std::string values = fmt::format("{}", fmt::join(argument.choices, " "));
  if (!list.empty()) values = fmt::format("(broodpact {} 2>/dev/null | cut -f1)", list);
  if (!argument.is_option()) {
    return values.empty() ? "" : FishLine(command, "-a " + FishQuoted(values));
  }
  const std::string name = FishQuoted(argument.name.substr(2));
  std::string rest = fmt::format("-l {} -d {}", name, FishQuoted(argument.help));
  if (!argument.is_flag()) rest += " -x";
  if (!values.empty()) rest += " -a " + FishQuoted(values);
  return FishLine(command, rest);
}

std::string FishOf(const Command& root) {
  const std::vector<const Command*> all = AllOf(root);
  std::string known;
  std::string lines;
  for (const Command* command : all) {
    if (!command->path().empty()) known += " " + SlashPath(*command);
    for (const auto& below : command->commands()) {
      if (below->hidden()) continue;
      lines += FishLine(*command, fmt::format("-a {} -d {}", FishQuoted(below->name()),
                                              FishQuoted(below->summary())));
    }
    for (const auto& argument : command->arguments()) lines += FishOfArgument(*command, *argument);
  }
  return fmt::format(R"(# Completion for broodpact: source this, or put it among fish's completions.
set -g __broodpact_known{}
function __broodpact_path
  set -l path ''
  for word in (commandline -opc)[2..-1]
    string match -q -- '-*' $word; and continue
    set -l longer (string trim -l -c / -- "$path/$word")
    contains -- $longer $__broodpact_known; and set path $longer
  end
  echo "$path"
end
complete -c broodpact -f
{})",
                     known, lines);
}

}  // namespace

std::string CompletionOf(const Command& root, std::string_view shell) {
  if (shell == "bash") return BashOf(root);
  if (shell == "zsh") {
    return "#compdef broodpact\nautoload -U +X bashcompinit && bashcompinit\n" + BashOf(root);
  }
  if (shell == "fish") return FishOf(root);
  return {};
}

}  // namespace broodpact::cli
