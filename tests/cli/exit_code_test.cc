// Goal: a script can tell from the exit code what class of thing went wrong. Method: each class by
// a reason that leads to it; the help page names every code.

#include "cli/terminal/exit_code.h"

#include <sstream>
#include <utility>

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

// The code under which the help page has a reason; -1 where it has none.
int HelpOf(const std::string& reason) {
  std::istringstream lines(ExitCodeHelp());
  int code = -1;
  for (std::string line; std::getline(lines, line);) {
    std::istringstream words(line);
    int number = 0;
    const bool begins = line.starts_with("  ") && !line.starts_with("         ");
    if (begins && (words >> number)) code = number;
    words.clear();
    for (std::string word; words >> word;) {
      if (word == reason || word == reason + ",") return code;
    }
  }
  return -1;
}

TEST(ExitCode, IsExplainedUnderTheReasonsThatLeadToIt) {
  using absl::StatusCode;
  const std::pair<StatusCode, const char*> errors[] = {
      {StatusCode::kResourceExhausted, "DISK_FULL"},
      {StatusCode::kUnavailable, "STORE_WRITE"},
      {StatusCode::kPermissionDenied, "KEY_EXPOSED"},
      {StatusCode::kAlreadyExists, "ALREADY_STARTED"},
      {StatusCode::kAlreadyExists, "SERVER_TAKEN"},
      {StatusCode::kFailedPrecondition, "REPLICA_NEWER"},
      {StatusCode::kPermissionDenied, "SERVER_OTHER"},
      {StatusCode::kInvalidArgument, "SIGNATURE_BAD"},
      {StatusCode::kUnauthenticated, "SIGNATURE_BAD"},
      {StatusCode::kResourceExhausted, "TOO_MANY_TRIES"},
      {StatusCode::kInvalidArgument, "AMBIGUOUS_SUBJECT"},
      {StatusCode::kInvalidArgument, "LENDER_IS_BORROWER"},
      {StatusCode::kInvalidArgument, "DATE_IN_FUTURE"},
      {StatusCode::kInvalidArgument, "COUNTS_DO_NOT_ADD_UP"},
      {StatusCode::kInvalidArgument, "INVITE_CODE"},
      {StatusCode::kNotFound, "UNKNOWN_SUBJECT"},
      {StatusCode::kNotFound, "INVITE_UNKNOWN"},
      {StatusCode::kPermissionDenied, "NOT_OWNER"},
      {StatusCode::kPermissionDenied, "CLAIM_WRONG"},
      {StatusCode::kUnauthenticated, "DEVICE_UNKNOWN"},
      {StatusCode::kFailedPrecondition, "INVITE_USED"},
      {StatusCode::kFailedPrecondition, "NO_COOPERATIVE"},
      {StatusCode::kFailedPrecondition, "COOPERATIVE_OTHER"},
      {StatusCode::kFailedPrecondition, "CERTIFICATE_EXPIRED"},
      {StatusCode::kFailedPrecondition, "CHAIN_FORK"},
      {StatusCode::kUnavailable, "SERVER_AWAY"},
      {StatusCode::kResourceExhausted, "SERVER_BUSY"},
      {StatusCode::kUnavailable, "REPLICA_BUSY"},
      {StatusCode::kFailedPrecondition, "CHAIN_HOLE"},
      {StatusCode::kNotFound, "REPLICA_MISSING"},
      {StatusCode::kDataLoss, "LOG_OTHER"},
  };
  for (const auto& [code, reason] : errors) {
    EXPECT_EQ(HelpOf(reason), static_cast<int>(ExitCodeOf(Fail(code, reason, "")))) << reason;
  }
}

TEST(ExitCode, IsExplainedForEveryCode) {
  const std::string help = ExitCodeHelp();
  for (const int code : {0, 1, 2, 3, 4, 5, 6, 7, 8, 130}) {
    EXPECT_NE(help.find(fmt::format("\n{:>5}  ", code)), std::string::npos) << code;
  }
}

}  // namespace
}  // namespace broodpact::cli
