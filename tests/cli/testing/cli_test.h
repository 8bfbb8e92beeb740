#pragma once

// Keepers at their terminals: command lines run in this process, on replicas in a temporary
// folder, with a clock that stands and an arrival log that needs no server.

#include <algorithm>
#include <map>
#include <sstream>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "cli/commands/all.h"
#include "cli/desk.h"
#include "cli/terminal/exit_code.h"
#include "client/base/status.h"
#include "tests/replica/testing/society.h"
#include <nlohmann/json.hpp>

namespace broodpact::cli {

// What a command left behind.
struct Answer {
  absl::Status status;
  std::string out;
  std::string messages;

  ExitCode exit_code() const { return ExitCodeOf(status); }
  std::string reason() const { return ReasonOf(status); }
};

class CliTest : public ::testing::Test {
 protected:
  // Runs "animal show rosa" for a keeper; words with blanks stand in double quotes. Its options
  // come as on a pipe: tabs, no colour.
  Answer Say(const std::string& keeper, const std::string& line) {
    if (seen_[keeper] != delivered_) society_.Pull(keeper);
    seen_[keeper] = delivered_;
    if (std::find(spoke_.begin(), spoke_.end(), keeper) == spoke_.end()) spoke_.push_back(keeper);
    society_.Close(keeper);
    Answer answer;
    std::ostringstream out;
    std::ostringstream messages;
    std::istringstream in(input_);
    Globals globals;
    const auto root = AllCommands(globals);
    const auto command = Parse(*root, globals, WordsOf(line));
    if (!command.ok()) return {.status = command.status(), .out = {}, .messages = {}};
    Terminal terminal{.out = out, .messages = messages};
    terminal.out_is_tty = tty_;
    terminal.messages_are_tty = tty_;
    terminal.format = globals.json ? Format::kJson : Format::kTable;
    const Desk desk{.terminal = terminal,
                    .in = in,
                    .home = society_.HomeOf(keeper),
                    .surroundings = society_.surroundings()};
    answer.status = (*command)->RunAt(desk);
    answer.out = out.str();
    answer.messages = messages.str();
    return answer;
  }

  // The same for a line that has to work; returns what it printed.
  std::string Do(const std::string& keeper, const std::string& line) {
    const Answer answer = Say(keeper, line);
    EXPECT_TRUE(answer.status.ok()) << keeper << ": " << line << ": " << answer.status;
    return answer.out;
  }

  // The same with --json.
  nlohmann::json Json(const std::string& keeper, const std::string& line) {
    const std::string out = Do(keeper, line + " --json");
    nlohmann::json json = nlohmann::json::parse(out, nullptr, false);
    EXPECT_FALSE(json.is_discarded()) << line << ": " << out;
    return json;
  }

  // What all have said arrives at all, in the order in which they spoke first. A replica takes it
  // in when its keeper speaks next: opening one is what takes time here.
  void Deliver() {
    for (const std::string& keeper : spoke_) society_.Push(keeper);
    spoke_.clear();
    ++delivered_;
  }

  ::broodpact::testing::Society society_;
  std::string input_;  // standard input of commands
  bool tty_ = false;   // whether a person is watching

 private:
  std::vector<std::string> spoke_;   // since the last delivery, in order
  std::map<std::string, int> seen_;  // deliveries taken in
  int delivered_ = 0;

  static std::vector<std::string> WordsOf(const std::string& line) {
    std::vector<std::string> words;
    std::istringstream in(line);
    for (std::string word; in >> std::quoted(word);) words.push_back(word);
    return words;
  }
};

// Three keepers and one group; mira has the female rosa, tomas the mature male bh-m-07.
class PairOfAnimalsTest : public CliTest {
 protected:
  void SetUp() override {
    society_.Found("mira", "PL");
    society_.Enter("tomas", "CZ");
    society_.Enter("bela", "PL");
    Do("mira", "group add hamorii-colima --taxon \"Brachypelma hamorii\" --locality Colima");
    Deliver();
    Do("mira", "animal add rosa --group hamorii-colima --sex female --hatched 2018");
    Do("tomas",
       "animal add bh-m-07 --group hamorii-colima --sex male --method adult-form "
       "--mature 2026-10-02");
    Deliver();
  }

  // The male is on loan with mira, on the given terms, and was put to rosa.
  void Lend(const std::string& terms = "") {
    Do("tomas", "loan offer bh-m-07 --to mira --name rosa-loan " + terms);
    Deliver();
    Do("mira", "loan accept rosa-loan");
    Deliver();
    Do("tomas", "loan send rosa-loan");
    Deliver();
    Do("mira", "loan receive rosa-loan --arrived well");
    Do("mira", "pair bh-m-07 rosa --outcome seen");
    Deliver();
  }
};

}  // namespace broodpact::cli
