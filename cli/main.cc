// broodpact: a replica with a terminal. Reads the command line, runs one command, reports once.

#include <csignal>
#include <cstdio>
#include <cstdlib>
#include <exception>
#include <iostream>
#include <string_view>

#include <grpc/support/log.h>

#include "cli/commands/all.h"
#include "cli/desk.h"
#include "cli/grammar/help.h"
#include "cli/grammar/parse.h"
#include "cli/terminal/exit_code.h"
#include "cli/terminal/json.h"
#include "cli/terminal/terminal.h"
#include "client/base/status.h"
#include <sys/ioctl.h>
#include <unistd.h>

namespace broodpact::cli {
namespace {

constexpr char kVersion[] = "broodpact 0.1.0";
constexpr int kWidthDefault = 80;

// Empty where it is not set.
std::string_view Environment(const char* name) {
  const char* const value = std::getenv(name);  // NOLINT(concurrency-mt-unsafe): one thread yet
  return value == nullptr ? std::string_view() : std::string_view(value);
}

int WidthOf() {
  winsize size{};
  if (ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col > 0) return size.ws_col;
  const int columns = std::atoi(std::string(Environment("COLUMNS")).c_str());
  return columns > 0 ? columns : kWidthDefault;
}

// Nothing where neither the command line nor the environment says: a secret key does not go into
// whatever folder the keeper happens to be in.
absl::StatusOr<std::filesystem::path> FolderOf(const Globals& globals) {
  if (!globals.home.empty()) return globals.home;
  const std::string_view folder = Environment("BROODPACT_HOME");
  if (!folder.empty()) return folder;
  const std::string_view home = Environment("HOME");
  if (!home.empty()) return std::filesystem::path(home) / ".broodpact";
  return Fail(absl::StatusCode::kInvalidArgument, "USAGE",
              "neither HOME nor BROODPACT_HOME is set; name the folder with --home <folder>");
}

Terminal TerminalOf(const Globals& globals) {
  Terminal terminal{.out = std::cout, .messages = std::cerr};
  terminal.out_is_tty = isatty(STDOUT_FILENO) != 0;
  terminal.messages_are_tty = isatty(STDERR_FILENO) != 0;
  terminal.colour = terminal.out_is_tty && terminal.messages_are_tty && !globals.no_color &&
                    Environment("NO_COLOR").empty() && Environment("TERM") != "dumb";
  terminal.width = WidthOf();
  terminal.format = globals.json ? Format::kJson : Format::kTable;
  return terminal;
}

// Says what did not work, once.
int Report(const Terminal& terminal, const absl::Status& status) {
  const auto code = static_cast<int>(ExitCodeOf(status));
  if (status.ok()) return code;
  terminal.out.flush();
  if (terminal.format == Format::kJson) {
    terminal.messages << ErrorJson(status) << '\n';
    return code;
  }
  const absl::string_view message = status.message();
  terminal.messages << Toned(terminal, Tone::kInTheWay, "broodpact: ")
                    << Clean(std::string_view(message.data(), message.size())) << '\n';
  return code;
}

int Run(const Terminal& terminal, const Globals& globals, const Command& command) {
  if (globals.version) {
    terminal.out << kVersion << '\n';
    return 0;
  }
  if (globals.help) {
    terminal.out << HelpOf(command);
    return 0;
  }
  if (!command.runs()) {
    terminal.messages << HelpOf(command);
    return static_cast<int>(ExitCode::kUsage);
  }
  const absl::StatusOr<std::filesystem::path> folder = FolderOf(globals);
  if (!folder.ok()) return Report(terminal, folder.status());
  const Desk desk{
      .terminal = terminal,
      .in = std::cin,
      .home = replica::Home(*folder),
      .surroundings = {.clock = device::SystemClock(), .randomness = device::SystemRandomness()}};
  const int code = Report(terminal, command.RunAt(desk));
  terminal.out.flush();
  if (code == 0 && !terminal.out) {
    return Report(terminal, Fail(absl::StatusCode::kUnavailable, "FILE_WRITE",
                                 "the result could not be written out; what it says is done, so "
                                 "look before you run this again"));
  }
  return code;
}

int Main(const std::vector<std::string>& arguments) {
  Globals globals;
  const std::unique_ptr<Command> root = AllCommands(globals);
  const absl::StatusOr<const Command*> command = Parse(*root, globals, arguments);
  const Terminal terminal = TerminalOf(globals);
  if (!command.ok()) return Report(terminal, command.status());
  return Run(terminal, globals, **command);
}

}  // namespace
}  // namespace broodpact::cli

int main(int argc, char** argv) {
  try {
    std::ios::sync_with_stdio(false);
    // A file that may not grow is an error like a full disk, and not the end of the process.
    std::signal(SIGXFSZ, SIG_IGN);
    // What gRPC says of a connection that fails is said by the error; its own lines would make the
    // one line of JSON on standard error none.
    gpr_set_log_function([](gpr_log_func_args* /*line*/) {});
    return broodpact::cli::Main({argv + 1, argv + argc});
  } catch (const std::exception& error) {  // ours are Status; this is a library's, or no memory
    std::fprintf(stderr, "broodpact: internal error: %s\n", error.what());
    return static_cast<int>(broodpact::cli::ExitCode::kFailed);
  }
}
