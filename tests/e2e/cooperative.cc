#include "tests/e2e/cooperative.h"

#include <chrono>
#include <csignal>
#include <fstream>
#include <iterator>
#include <sstream>
#include <thread>

#include <gtest/gtest.h>

#include <unistd.h>

namespace broodpact::e2e {
namespace {

std::string FirstWord(const std::string& text) {
  std::istringstream words(text);
  std::string word;
  words >> word;
  return word;
}

}  // namespace

Folder::Folder(const std::string& name) {
  std::string pattern = (std::filesystem::temp_directory_path() / (name + ".XXXXXX")).string();
  path_ = mkdtemp(pattern.data());
}

Folder::~Folder() {
  std::error_code ignored;  // a folder that stays behind does not fail a test
  std::filesystem::remove_all(path_, ignored);
}

Server::Server(std::filesystem::path data) : data_(std::move(data)) {}

void Server::Start() {
  ASSERT_TRUE(process_ == nullptr || !process_->running()) << "it runs already";
  std::filesystem::remove(data_ / "address");
  std::vector<std::string> command{BROODPACT_SERVER, "--data", data_.string(), "--listen",
                                   address_};
  command.insert(command.end(), options_.begin(), options_.end());
  process_ =
      std::make_unique<Process>(command, data_.string() + ".run" + std::to_string(++starts_));
  ASSERT_TRUE(Eventually([&] {
    return std::filesystem::exists(data_ / "address") || !process_->running();
  })) << process_->err();
  ASSERT_TRUE(process_->running()) << process_->err();
  std::ifstream(data_ / "address") >> address_;
}

int Server::Stop() {
  process_->Signal(SIGTERM);
  return process_->Wait(std::chrono::seconds(20)).code;
}

void Server::Kill() {
  process_->Signal(SIGKILL);
  process_->Wait();
}

std::string Server::claim_code() const {
  std::string code;
  Eventually([&] {
    std::istringstream words(process_->out());
    for (std::string word; words >> word;) {
      if (word.rfind("broodpact1", 0) == 0) code = word;
    }
    return !code.empty();
  });
  return code;
}

Keeper::Keeper(const std::filesystem::path& folder, const std::string& name)
    : folder_(folder), home_(folder / name), name_(name) {
  Do({"start", "--name", name});
}

Keeper Keeper::CopyTo(const std::string& folder_name) const {
  Keeper copy;
  copy.folder_ = folder_;
  copy.home_ = folder_ / folder_name;
  copy.name_ = folder_name;
  copy.Restore(*this);
  return copy;
}

void Keeper::Restore(const Keeper& other) const {
  std::filesystem::remove_all(home_);
  std::filesystem::copy(other.home_, home_, std::filesystem::copy_options::recursive);
}

std::vector<std::string> Keeper::CommandOf(std::vector<std::string> words) const {
  std::vector<std::string> command{BROODPACT_CLI};
  command.insert(command.end(), words.begin(), words.end());
  command.insert(command.end(), {"--home", home_.string()});
  return command;
}

Outcome Keeper::Try(std::vector<std::string> words, std::string_view input) {
  return RunToEnd(CommandOf(std::move(words)), folder_ / (name_ + ".run" + std::to_string(++runs_)),
                  environment_, input);
}

std::string Keeper::Do(const std::vector<std::string>& words, std::string_view input) {
  const Outcome outcome = Try(words, input);
  std::string said;
  for (const std::string& word : words) said += word + ' ';
  EXPECT_EQ(outcome.code, 0) << name_ << ": " << said << '\n' << outcome.out << outcome.err;
  return outcome.out;
}

nlohmann::json Keeper::Ask(std::vector<std::string> words) {
  words.emplace_back("--json");
  const std::string out = Do(words);
  nlohmann::json json = nlohmann::json::parse(out, nullptr, false);
  EXPECT_FALSE(json.is_discarded()) << FirstWord(words.front()) << " printed no JSON: " << out;
  return json;
}

std::unique_ptr<Process> Keeper::Begin(std::vector<std::string> words) {
  return std::make_unique<Process>(CommandOf(std::move(words)),
                                   folder_ / (name_ + ".run" + std::to_string(++runs_)),
                                   environment_);
}

bool Eventually(const std::function<bool()>& condition) {
  for (int i = 0; i < 1'000; ++i) {
    if (condition()) return true;
    std::this_thread::sleep_for(std::chrono::milliseconds(10));
  }
  return condition();
}

std::string FirstArrivalOf(Keeper& keeper, const std::string& what) {
  const nlohmann::json log = keeper.Ask({"log"});
  for (const nlohmann::json& entry : log["entries"]) {
    if (entry["statements"].dump().find(what) == std::string::npos) continue;
    const std::string first = entry.value("first_arrival_time", "");
    return first.empty() ? entry.value("arrival_time", "") : first;
  }
  return "";
}

}  // namespace broodpact::e2e
