#include "cli/commands/manual.h"

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <memory>

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "cli/desk.h"
#include "cli/grammar/completion.h"
#include "cli/grammar/help.h"
#include "cli/grammar/man.h"
#include "client/base/status.h"

namespace broodpact::cli {
namespace {

// The command that the words call; nothing if there is none.
const Command* CommandAt(const Command& root, const std::vector<std::string>& words) {
  const Command* command = &root;
  for (const std::string& word : words) {
    const auto& below = command->commands();
    const auto found = std::ranges::find_if(
        below, [&](const std::unique_ptr<Command>& one) { return one->name() == word; });
    if (found == below.end()) return nullptr;
    command = found->get();
  }
  return command;
}

absl::Status PrintHelp(const Desk& desk, const Command& root,
                       const std::vector<std::string>& words) {
  const std::string page = words.size() == 1 ? HelpOfTopic(words.front()) : std::string();
  if (!page.empty()) {
    desk.terminal.out << page;
    return absl::OkStatus();
  }
  if (const Command* command = CommandAt(root, words)) {
    desk.terminal.out << HelpOf(*command);
    return absl::OkStatus();
  }
  return Fail(absl::StatusCode::kInvalidArgument, "USAGE",
              fmt::format("there is no help on '{}'; there is help on {}, and on each command",
                          fmt::join(words, " "), fmt::join(HelpTopics(), ", ")));
}

absl::Status WritePages(const Desk& desk, const Command& root, const std::string& folder) {
  for (const auto& [name, page] : ManPagesOf(root)) {
    const std::filesystem::path file = std::filesystem::path(folder) / name;
    std::ofstream out(file, std::ios::binary);
    out << page;
    out.close();
    if (!out) {
      return Fail(absl::StatusCode::kUnavailable, "FILE_WRITE",
                  fmt::format("{} cannot be written; name a folder that exists", file.string()));
    }
    desk.terminal.messages << file.string() << '\n';
  }
  return absl::OkStatus();
}

absl::Status PrintPages(const Desk& desk, const Command& root, const std::string& name) {
  for (const auto& [file, page] : ManPagesOf(root)) {
    if (file != name && file != name + ".1") continue;
    desk.terminal.out << page;
    return absl::OkStatus();
  }
  return Fail(absl::StatusCode::kNotFound, "UNKNOWN_SUBJECT",
              fmt::format("there is no man page '{}'; try broodpact or broodpact-loan", name));
}

}  // namespace

void AddManualCommands(Command& root) {
  Command& help = root.AddGroup("help", "Explain a command, or what belongs to none");
  const auto topic = std::make_shared<std::vector<std::string>>();
  help.Words("topic", *topic, "A command, or exit-codes, environment, json, words");
  help.AddExample("What the exit codes mean", "broodpact help exit-codes");
  help.AddExample("How to offer a loan", "broodpact help loan offer");
  help.SetRun([topic, &root](const Desk& desk) { return PrintHelp(desk, root, *topic); });

  Command& man = root.AddGroup("man", "Print a man page, or write all into a folder");
  const auto page = std::make_shared<std::string>("broodpact");
  const auto folder = std::make_shared<std::string>();
  man.Positional("page", *page, "Name of the page (default: broodpact)").required = false;
  man.Option("--into", "folder", *folder, "Write all pages into this folder");
  man.Hide();
  man.SetRun([page, folder, &root](const Desk& desk) {
    return folder->empty() ? PrintPages(desk, root, *page) : WritePages(desk, root, *folder);
  });

  Command& completion = root.AddGroup("completion", "Print a completion script for a shell");
  const auto shell = std::make_shared<std::string>();
  completion.Positional("shell", *shell, "Shell").OneOf({"bash", "zsh", "fish"});
  completion.Hide();
  completion.SetRun([shell, &root](const Desk& desk) {
    desk.terminal.out << CompletionOf(root, *shell);
    return absl::OkStatus();
  });
}

}  // namespace broodpact::cli
