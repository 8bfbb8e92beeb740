#pragma once

// What the shell learns. Documented by `broodpact help exit-codes`; a code keeps its meaning for
// ever, and scripts treat a code that they do not know as a failure.

#include <string>

#include "absl/status/status.h"

namespace broodpact::cli {

enum class ExitCode : int {
  kDone = 0,          // it is so, or it already was
  kFailed = 1,        // it did not work; the message says why
  kUsage = 2,         // the command line is wrong; nothing was tried
  kNothing = 3,       // the question is fine and the answer is empty
  kNotAllowed = 4,    // you may not do that
  kUnsettled = 5,     // a clash, a signature or an earlier step stands in the way
  kOffline = 6,       // the server cannot be reached; what you recorded is kept
  kBusy = 7,          // another process holds the replica
  kDamaged = 8,       // the replica is damaged; see `broodpact verify`
  kInterrupted = 130  // Ctrl-C
};

// By the reason where it says more than the code, else by the code.
ExitCode ExitCodeOf(const absl::Status& status);

// The help page on exit codes: each code, and the reasons that lead to it.
std::string ExitCodeHelp();

}  // namespace broodpact::cli
