#pragma once

// Where most stories of faults begin: Tomas founds and has a server, and Mira is in.

#include <filesystem>
#include <string>

#include <gtest/gtest.h>

#include "tests/e2e/cooperative.h"

namespace broodpact::e2e {

class TwoKeepers : public testing::Test {
 protected:
  TwoKeepers()
      : folder_("broodpact-e2e"),
        server_(folder_.path() / "server"),
        tomas_(folder_.path(), "tomas"),
        mira_(folder_.path(), "mira") {}

  void SetUp() override {
    tomas_.Do({"found", "The cellar cooperative"});
    tomas_.Do({"group", "add", "hamorii-colima", "--taxon", "Brachypelma hamorii"});
    server_.Start();
    tomas_.Do({"join", server_.claim_code()});
    mira_.Do({"join", "-"}, Invitation());
  }

  // A fresh invitation, known to the server.
  std::string Invitation() {
    std::string code = tomas_.Do({"invite"});
    tomas_.Do({"sync"});
    return code;
  }

  // Keeps the server's folder as it is under another name, and puts it back.
  void Save() {
    server_.Kill();
    std::filesystem::remove_all(saved());
    std::filesystem::copy(server_.data(), saved(), std::filesystem::copy_options::recursive);
    server_.Start();
  }
  void PutBack() {
    server_.Kill();
    std::filesystem::remove_all(server_.data());
    std::filesystem::copy(saved(), server_.data(), std::filesystem::copy_options::recursive);
    server_.Start();
  }
  std::filesystem::path saved() const { return folder_.path() / "saved"; }

  Folder folder_;
  Server server_;
  Keeper tomas_;
  Keeper mira_;
};

}  // namespace broodpact::e2e
