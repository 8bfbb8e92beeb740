// Goal: a script can tell from the exit code what class of thing went wrong. Method: each class by
// a reason that leads to it; the help page names every code.

#include "cli/terminal/exit_code.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include "client/base/status.h"

namespace broodpact::cli {
namespace {

TEST(ExitCode, FollowsTheClassOfTheError) {
  const auto code = [](absl::StatusCode status, std::string_view reason) {
    return ExitCodeOf(Fail(status, reason, "because"));
  };
  EXPECT_EQ(ExitCodeOf(absl::OkStatus()), ExitCode::kDone);
  EXPECT_EQ(code(absl::StatusCode::kInvalidArgument, "USAGE"), ExitCode::kUsage);
  EXPECT_EQ(code(absl::StatusCode::kNotFound, "UNKNOWN_SUBJECT"), ExitCode::kNothing);
  EXPECT_EQ(code(absl::StatusCode::kPermissionDenied, "NOT_OWNER"), ExitCode::kNotAllowed);
  EXPECT_EQ(code(absl::StatusCode::kUnauthenticated, "DEVICE_UNKNOWN"), ExitCode::kNotAllowed);
  EXPECT_EQ(code(absl::StatusCode::kFailedPrecondition, "TERMS_UNSIGNED"), ExitCode::kUnsettled);
  EXPECT_EQ(code(absl::StatusCode::kAborted, "TOKEN_SPENT"), ExitCode::kUnsettled);
  EXPECT_EQ(code(absl::StatusCode::kUnavailable, "SERVER_AWAY"), ExitCode::kOffline);
  EXPECT_EQ(code(absl::StatusCode::kDataLoss, "STORE_DAMAGED"), ExitCode::kDamaged);
  EXPECT_EQ(code(absl::StatusCode::kCancelled, "INTERRUPTED"), ExitCode::kInterrupted);
  EXPECT_EQ(code(absl::StatusCode::kInternal, "JSON"), ExitCode::kFailed);
}

TEST(ExitCode, FollowsTheReasonWhereThatSaysMore) {
  EXPECT_EQ(ExitCodeOf(Fail(absl::StatusCode::kUnavailable, "REPLICA_BUSY", "")), ExitCode::kBusy);
  EXPECT_EQ(ExitCodeOf(Fail(absl::StatusCode::kUnavailable, "FILE_WRITE", "")), ExitCode::kFailed);
  EXPECT_EQ(ExitCodeOf(Fail(absl::StatusCode::kResourceExhausted, "DISK_FULL", "")),
            ExitCode::kFailed);
  EXPECT_EQ(ExitCodeOf(Fail(absl::StatusCode::kNotFound, "KEY_MISSING", "")), ExitCode::kDamaged);
  EXPECT_EQ(ExitCodeOf(Fail(absl::StatusCode::kPermissionDenied, "SERVER_OTHER", "")),
            ExitCode::kFailed);
}

TEST(ExitCode, IsExplainedForEveryCode) {
  const std::string help = ExitCodeHelp();
  for (const int code : {0, 1, 2, 3, 4, 5, 6, 7, 8, 130}) {
    EXPECT_NE(help.find(fmt::format("\n{:>5}  ", code)), std::string::npos) << code;
  }
}

}  // namespace
}  // namespace broodpact::cli
