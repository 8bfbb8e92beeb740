#pragma once

// A cooperative for a test: a real server on loopback and real homes, each command a process.

#include <filesystem>
#include <functional>
#include <map>
#include <memory>
#include <string>
#include <vector>

#include "tests/e2e/process.h"
#include <nlohmann/json.hpp>

namespace broodpact::e2e {

// A fresh folder that goes away with it.
class Folder {
 public:
  explicit Folder(const std::string& name);
  ~Folder();
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

// broodpact-server on a free port of loopback. Keeps its port over restarts.
class Server {
 public:
  explicit Server(std::filesystem::path data);

  // What it is started with from now on, beside its folder and its address.
  void SetOptions(std::vector<std::string> options) { options_ = std::move(options); }

  // Starts it and waits until it listens.
  void Start();
  // Ends it: SIGTERM and a wait for its exit code, or SIGKILL in the middle of whatever it does.
  int Stop();
  void Kill();

  const std::filesystem::path& data() const { return data_; }
  // host:port
  const std::string& address() const { return address_; }
  // The code that claims it.
  std::string claim_code() const;
  std::string log() const { return process_->err(); }

 private:
  std::filesystem::path data_;
  std::string address_ = "127.0.0.1:0";
  std::vector<std::string> options_;
  std::unique_ptr<Process> process_;
  int starts_ = 0;
};

// A keeper's home, and commands in it.
class Keeper {
 public:
  // Makes the home: `broodpact start`.
  Keeper(const std::filesystem::path& folder, const std::string& name);

  // The same keeper in a copy of its whole folder.
  Keeper CopyTo(const std::string& folder_name) const;
  // Puts the folder of `other` in the place of this one, as from a backup.
  void Restore(const Keeper& other) const;

  // What every later command has in its environment.
  void SetEnvironment(std::map<std::string, std::string> environment) {
    environment_ = std::move(environment);
  }

  const std::string& name() const { return name_; }
  std::filesystem::path home() const { return home_; }

  // Runs `broodpact <words> --home ...`.
  Outcome Try(std::vector<std::string> words, std::string_view input = {});
  // The same, and expects exit code 0. Returns standard output.
  std::string Do(const std::vector<std::string>& words, std::string_view input = {});
  // The same with --json, parsed.
  nlohmann::json Ask(std::vector<std::string> words);
  // A command that goes on in the background.
  std::unique_ptr<Process> Begin(std::vector<std::string> words);

 private:
  Keeper() = default;
  std::vector<std::string> CommandOf(std::vector<std::string> words) const;

  std::filesystem::path folder_;
  std::filesystem::path home_;
  std::string name_;
  std::map<std::string, std::string> environment_;
  int runs_ = 0;
};

// Waits until `condition` holds, at most ten seconds. Returns whether it does.
bool Eventually(const std::function<bool()>& condition);

// When the commit that says `what` arrived, by a keeper's log: the first time if it did more than
// once. Empty if there is none.
std::string FirstArrivalOf(Keeper& keeper, const std::string& what);

}  // namespace broodpact::e2e
