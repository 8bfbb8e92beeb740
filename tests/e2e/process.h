#pragma once

// Real processes, for tests that want nothing less: started, waited for, killed.

#include <chrono>
#include <filesystem>
#include <map>
#include <string>
#include <vector>

#include <sys/types.h>

namespace broodpact::e2e {

// What a process printed and how it ended.
struct Outcome {
  int code = -1;  // exit code; 128 + signal if one ended it
  std::string out{};
  std::string err{};
};

// A child process whose output goes to two files. Killed and reaped when it goes out of scope.
class Process {
 public:
  // Starts `command` (a path, then its arguments). `environment` adds to this process's own.
  // Output goes to `output` + ".out" and ".err".
  Process(const std::vector<std::string>& command, std::filesystem::path output,
          const std::map<std::string, std::string>& environment = {}, std::string_view input = {});
  ~Process();
  Process(const Process&) = delete;
  Process& operator=(const Process&) = delete;

  // Sends a signal.
  void Signal(int signal) const;

  // Waits for the end, at most `limit`; kills it after that.
  Outcome Wait(std::chrono::seconds limit = std::chrono::seconds(60));

  // What it has printed so far.
  std::string out() const;
  std::string err() const;
  bool running();

 private:
  pid_t pid_ = -1;
  std::filesystem::path output_;
  int code_ = -1;
};

// Runs a command to its end.
Outcome RunToEnd(const std::vector<std::string>& command, const std::filesystem::path& output,
                 const std::map<std::string, std::string>& environment = {},
                 std::string_view input = {});

}  // namespace broodpact::e2e
