#pragma once

// broodpact terms: terms under a name, to be used again.

#include <string>

#include "absl/status/status.h"

#include "cli/desk.h"
#include "cli/grammar/command.h"
#include "cli/terms/terms.h"

namespace broodpact::cli {

struct SaveTermsOptions {
  std::string name{};
  TermsOptions terms{};
  bool replace = false;
  bool as_is = false;
};
struct ListTermsOptions {};
struct ShowTermsOptions {
  std::string name{};
};

absl::Status RunSaveTerms(const Desk& desk, const SaveTermsOptions& options);
absl::Status RunListTerms(const Desk& desk, const ListTermsOptions& options);
absl::Status RunShowTerms(const Desk& desk, const ShowTermsOptions& options);

void AddTermsCommands(Command& root);

}  // namespace broodpact::cli
