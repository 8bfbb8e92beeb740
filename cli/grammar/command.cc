#include "cli/grammar/command.h"

namespace broodpact::cli {

Command& Command::AddGroup(std::string name, std::string summary) {
  commands_.push_back(std::make_unique<Command>(std::move(name), std::move(summary)));
  commands_.back()->parent_ = this;
  return *commands_.back();
}

Argument& Command::AddArgument(Argument argument) {
  arguments_.push_back(std::make_unique<Argument>(std::move(argument)));
  return *arguments_.back();
}

Argument& Command::Positional(std::string name, std::string& target, std::string help) {
  std::string value = name;
  return AddArgument({.name = std::move(name),
                      .value = std::move(value),
                      .help = std::move(help),
                      .target = &target,
                      .required = true,
                      .choices = {}});
}

Argument& Command::Words(std::string name, std::vector<std::string>& target, std::string help) {
  std::string value = name;
  return AddArgument({.name = std::move(name),
                      .value = std::move(value),
                      .help = std::move(help),
                      .target = &target,
                      .choices = {}});
}

Argument& Command::Option(std::string name, std::string value, std::string& target,
                          std::string help) {
  return AddArgument({.name = std::move(name),
                      .value = std::move(value),
                      .help = std::move(help),
                      .target = &target,
                      .choices = {}});
}

Argument& Command::Options(std::string name, std::string value, std::vector<std::string>& target,
                           std::string help) {
  return AddArgument({.name = std::move(name),
                      .value = std::move(value),
                      .help = std::move(help),
                      .target = &target,
                      .choices = {}});
}

Argument& Command::Number(std::string name, std::string value, std::optional<std::uint32_t>& target,
                          std::string help) {
  return AddArgument({.name = std::move(name),
                      .value = std::move(value),
                      .help = std::move(help),
                      .target = &target,
                      .choices = {}});
}

Argument& Command::Flag(std::string name, bool& target, std::string help) {
  return AddArgument({.name = std::move(name),
                      .value = {},
                      .help = std::move(help),
                      .target = &target,
                      .choices = {}});
}

std::string Command::path() const {
  if (parent_ == nullptr) return {};
  const std::string above = parent_->path();
  return above.empty() ? name_ : above + " " + name_;
}

}  // namespace broodpact::cli
