#include "tests/e2e/process.h"

#include <csignal>
#include <cstdlib>
#include <fstream>
#include <sstream>
#include <thread>

#include <gtest/gtest.h>

#include <fcntl.h>
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

void RedirectTo(int target, const std::string& path, int flags) {
  const int file = open(path.c_str(), flags, 0600);
  if (file < 0 || dup2(file, target) < 0) _exit(126);
  close(file);
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
  pid_ = fork();
  if (pid_ != 0) return;
  RedirectTo(STDIN_FILENO, in, O_RDONLY);
  RedirectTo(STDOUT_FILENO, output_.string() + ".out", O_CREAT | O_WRONLY | O_TRUNC);
  RedirectTo(STDERR_FILENO, output_.string() + ".err", O_CREAT | O_WRONLY | O_TRUNC);
  for (const auto& [name, value] : environment) {
    setenv(name.c_str(), value.c_str(), 1);  // NOLINT(concurrency-mt-unsafe): a child, one thread
  }
  std::vector<char*> arguments;
  arguments.reserve(command.size() + 1);
  for (const std::string& word : command) arguments.push_back(const_cast<char*>(word.c_str()));
  arguments.push_back(nullptr);
  execv(arguments[0], arguments.data());
  _exit(127);
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
