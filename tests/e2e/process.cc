#include "tests/e2e/process.h"

#include <csignal>
#include <fstream>
#include <sstream>
#include <thread>

#include <gtest/gtest.h>

#include <fcntl.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

namespace broodpact::e2e {
namespace {

std::string ReadAll(const std::filesystem::path& path) {
  std::ifstream file(path, std::ios::binary);
  std::ostringstream text;
  text << file.rdbuf();
  return text.str();
}

// The words as execve wants them.
std::vector<char*> Pointers(std::vector<std::string>& words) {
  std::vector<char*> pointers;
  pointers.reserve(words.size() + 1);
  for (std::string& word : words) pointers.push_back(word.data());
  pointers.push_back(nullptr);
  return pointers;
}

// This process's environment, with `changes`.
std::vector<std::string> EnvironmentWith(const std::map<std::string, std::string>& changes) {
  std::vector<std::string> variables;
  for (char** variable = environ; *variable != nullptr; ++variable) {
    const std::string text(*variable);
    if (!changes.contains(text.substr(0, text.find('=')))) variables.push_back(text);
  }
  for (const auto& [name, value] : changes) variables.push_back(name + "=" + value);
  return variables;
}

int CodeOf(int status) {
  if (WIFEXITED(status)) return WEXITSTATUS(status);
  return WIFSIGNALED(status) ? 128 + WTERMSIG(status) : -1;
}

}  // namespace

Process::Process(const std::vector<std::string>& command, std::filesystem::path output,
                 const std::map<std::string, std::string>& environment, std::string_view input)
    : output_(std::move(output)) {
  const std::string in = output_.string() + ".in";
  std::ofstream(in, std::ios::binary) << input;
  // Not fork: a bench with hundreds of megabytes would pay for copying its page tables.
  posix_spawn_file_actions_t files;
  posix_spawn_file_actions_init(&files);
  const auto open_as = [&files](int target, const std::string& path, int flags) {
    posix_spawn_file_actions_addopen(&files, target, path.c_str(), flags, 0600);
  };
  const std::string out_path = output_.string() + ".out";
  const std::string err_path = output_.string() + ".err";
  open_as(STDIN_FILENO, in, O_RDONLY);
  open_as(STDOUT_FILENO, out_path, O_CREAT | O_WRONLY | O_TRUNC);
  open_as(STDERR_FILENO, err_path, O_CREAT | O_WRONLY | O_TRUNC);
  std::vector<std::string> words = command;
  std::vector<std::string> variables = EnvironmentWith(environment);
  const int failed = posix_spawn(&pid_, words.front().c_str(), &files, nullptr,
                                 Pointers(words).data(), Pointers(variables).data());
  posix_spawn_file_actions_destroy(&files);
  if (failed != 0) code_ = 127;
}

Process::~Process() {
  if (!running()) return;
  kill(pid_, SIGKILL);
  int status = 0;
  waitpid(pid_, &status, 0);
}

void Process::Signal(int signal) const {
  if (code_ < 0) kill(pid_, signal);
}

bool Process::running() {
  if (code_ >= 0) return false;
  int status = 0;
  if (waitpid(pid_, &status, WNOHANG) != pid_) return true;
  code_ = CodeOf(status);
  return false;
}

Outcome Process::Wait(std::chrono::seconds limit) {
  const auto until = std::chrono::steady_clock::now() + limit;
  while (running()) {
    if (std::chrono::steady_clock::now() > until) {
      ADD_FAILURE() << "still running after " << limit.count() << " s: " << output_;
      kill(pid_, SIGKILL);
    }
    std::this_thread::sleep_for(std::chrono::milliseconds(2));
  }
  return {.code = code_, .out = out(), .err = err()};
}

std::string Process::out() const {
  return ReadAll(output_.string() + ".out");
}
std::string Process::err() const {
  return ReadAll(output_.string() + ".err");
}

Outcome RunToEnd(const std::vector<std::string>& command, const std::filesystem::path& output,
                 const std::map<std::string, std::string>& environment, std::string_view input) {
  return Process(command, output, environment, input).Wait();
}

}  // namespace broodpact::e2e
