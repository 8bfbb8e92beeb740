#pragma once

// A folder that is gone after the test.

#include <cstddef>
#include <cstdlib>
#include <filesystem>
#include <iterator>
#include <string>

#include "client/base/check.h"

namespace broodpact::device {

class TemporaryFolder {
 public:
  TemporaryFolder() {
    std::string name = (std::filesystem::temp_directory_path() / "broodpact.XXXXXX").string();
    BP_CHECK(::mkdtemp(name.data()) != nullptr);
    path_ = name;
  }
  ~TemporaryFolder() { std::filesystem::remove_all(path_); }
  TemporaryFolder(const TemporaryFolder&) = delete;
  TemporaryFolder& operator=(const TemporaryFolder&) = delete;

  std::filesystem::path operator/(const std::string& name) const { return path_ / name; }
  const std::filesystem::path& path() const { return path_; }

  // How many files there are, hidden ones too.
  std::ptrdiff_t Files() const {
    return std::distance(std::filesystem::directory_iterator(path_),
                         std::filesystem::directory_iterator());
  }

 private:
  std::filesystem::path path_;
};

}  // namespace broodpact::device
