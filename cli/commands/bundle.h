#pragma once

// broodpact bundle write, read, show: exchange by a file, without a network.

#include <string>

#include "absl/status/status.h"

#include "cli/desk.h"
#include "cli/grammar/command.h"

namespace broodpact::cli {

struct WriteBundleOptions {
  std::string file{};
  std::string for_bundle{};  // a bundle of whom it is for; empty: nothing is left out
};
struct ReadBundleOptions {
  std::string file{};
};
struct ShowBundleOptions {
  std::string file{};
};

// Errors: NOT_FOUND with reason FILE_MISSING; UNAVAILABLE with reason FILE_WRITE; those of
// Replica::WriteBundle and ReadBundle.
absl::Status RunWriteBundle(const Desk& desk, const WriteBundleOptions& options);
absl::Status RunReadBundle(const Desk& desk, const ReadBundleOptions& options);
absl::Status RunShowBundle(const Desk& desk, const ShowBundleOptions& options);

void AddBundleCommands(Command& root);

}  // namespace broodpact::cli
