#pragma once

// What a command line can say, as data: commands, their arguments, help and examples. Parsing
// (parse.h), help (help.h), man pages (man.h) and completion (completion.h) all walk this one
// tree, so none of them can know a command that the others do not.

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "absl/status/status.h"

namespace broodpact::cli {

struct Desk;

// Where the parsed value of an argument goes.
using Target =
    std::variant<bool*, std::string*, std::vector<std::string>*, std::optional<std::uint32_t>*>;

// One argument of a command. An option's name begins with "--"; a positional's does not.
struct Argument {
  std::string name{};
  std::string value{};  // what stands for the value in help: "keeper"; empty for a flag
  std::string help{};   // a noun phrase or an imperative
  Target target{};
  bool required = false;
  std::vector<std::string> choices{};  // the only values that it may have; empty: any
  std::uint32_t least = 0;             // of a number

  Argument& Required() {
    required = true;
    return *this;
  }
  Argument& OneOf(std::vector<std::string> words) {
    choices = std::move(words);
    return *this;
  }
  Argument& AtLeast(std::uint32_t number) {
    least = number;
    return *this;
  }
  bool is_option() const { return name.starts_with("--"); }
  bool is_flag() const { return value.empty(); }
  // Several words without an option's name.
  bool is_words() const {
    return !is_option() && std::holds_alternative<std::vector<std::string>*>(target);
  }
};

struct Example {
  std::string comment{};
  std::string line{};
};

class Command {
 public:
  using Run = std::function<absl::Status(const Desk&)>;

  // `summary` is an imperative of at most 60 columns, without a full stop.
  Command(std::string name, std::string summary)
      : name_(std::move(name)), summary_(std::move(summary)) {}

  // A group of commands below this one. Valid as long as this is.
  Command& AddGroup(std::string name, std::string summary);

  // A command below this one. `describe` fills in what it takes; `run` runs it. The options live
  // as long as this does.
  template <typename Options>
  Command& Add(std::string name, std::string summary, void (*describe)(Command&, Options&),
               absl::Status (*run)(const Desk&, const Options&)) {
    Command& command = AddGroup(std::move(name), std::move(summary));
    auto options = std::make_shared<Options>();
    describe(command, *options);
    command.run_ = [options, run](const Desk& desk) { return run(desk, *options); };
    return command;
  }

  // Description. The target outlives the command.
  Argument& Positional(std::string name, std::string& target, std::string help);  // required
  Argument& Words(std::string name, std::vector<std::string>& target,
                  std::string help);  // positional; none, one or several
  Argument& Option(std::string name, std::string value, std::string& target, std::string help);
  Argument& Options(std::string name, std::string value, std::vector<std::string>& target,
                    std::string help);  // may be repeated
  Argument& Number(std::string name, std::string value, std::optional<std::uint32_t>& target,
                   std::string help);
  Argument& Flag(std::string name, bool& target, std::string help);
  // The one rule that people get wrong; a paragraph.
  void Note(std::string text) { notes_.push_back(std::move(text)); }
  // The most common first.
  void AddExample(std::string comment, std::string line) {
    examples_.push_back({.comment = std::move(comment), .line = std::move(line)});
  }
  // Keeps the command out of help, man pages and completion.
  void Hide() { hidden_ = true; }
  void SetRun(Run run) { run_ = std::move(run); }

  const std::string& name() const { return name_; }
  // The words that call it: "loan offer". Empty for the root.
  std::string path() const;
  const std::string& summary() const { return summary_; }
  const std::vector<std::string>& notes() const { return notes_; }
  const std::vector<Example>& examples() const { return examples_; }
  const std::vector<std::unique_ptr<Argument>>& arguments() const { return arguments_; }
  const std::vector<std::unique_ptr<Command>>& commands() const { return commands_; }
  bool hidden() const { return hidden_; }
  // Whether it does something by itself; else it groups others.
  bool runs() const { return run_ != nullptr; }
  absl::Status RunAt(const Desk& desk) const { return run_(desk); }

 private:
  Argument& AddArgument(Argument argument);

  std::string name_{};
  std::string summary_{};
  const Command* parent_ = nullptr;
  std::vector<std::string> notes_;
  std::vector<Example> examples_;
  std::vector<std::unique_ptr<Argument>> arguments_;
  std::vector<std::unique_ptr<Command>> commands_;
  bool hidden_ = false;
  Run run_;
};

}  // namespace broodpact::cli
