#include "cli/confirm.h"

#include "client/base/status.h"

namespace broodpact::cli {

absl::Status Confirm(const Desk& desk, const std::string& question, Consent consent) {
  if (consent == Consent::kGiven) return absl::OkStatus();
  if (!desk.terminal.messages_are_tty) {
    return Fail(absl::StatusCode::kFailedPrecondition, "NOT_CONFIRMED",
                "nobody is at the terminal to be asked; say --yes to do it");
  }
  desk.terminal.messages << Clean(question) << " [y/N] " << std::flush;
  std::string answer;
  std::getline(desk.in, answer);
  if (answer == "y" || answer == "yes" || answer == "Y") return absl::OkStatus();
  return Fail(absl::StatusCode::kFailedPrecondition, "NOT_CONFIRMED", "nothing was done");
}

}  // namespace broodpact::cli
