#include "cli/terminal/exit_code.h"

#include <array>
#include <string_view>

#include "client/base/status.h"

namespace broodpact::cli {
namespace {

// Reasons whose code alone would give another exit code than a keeper expects.
struct ReasonRule {
  std::string_view reason;
  ExitCode exit_code;
};

constexpr std::array kReasonRules = {
    ReasonRule{"REPLICA_BUSY", ExitCode::kBusy},
    ReasonRule{"REPLICA_BEGINNING", ExitCode::kBusy},
    ReasonRule{"STORE_READ", ExitCode::kFailed},
    ReasonRule{"STORE_WRITE", ExitCode::kFailed},
    ReasonRule{"FILE_READ", ExitCode::kFailed},
    ReasonRule{"FILE_WRITE", ExitCode::kFailed},
    ReasonRule{"KEY_EXPOSED", ExitCode::kFailed},
    ReasonRule{"SERVER_OTHER", ExitCode::kFailed},
    ReasonRule{"HEAD_SIGNATURE_BAD", ExitCode::kFailed},
    ReasonRule{"EPOCH_SIGNATURE_BAD", ExitCode::kFailed},
    ReasonRule{"REPLICA_NEWER", ExitCode::kFailed},
    ReasonRule{"SIGNATURE_BAD", ExitCode::kFailed},
    ReasonRule{"CHUNK_FORM", ExitCode::kFailed},
    ReasonRule{"RECORD_FORM", ExitCode::kFailed},
    ReasonRule{"ANSWER_FORM", ExitCode::kFailed},
    ReasonRule{"SERVER_BUSY", ExitCode::kOffline},
    ReasonRule{"CHAIN_HOLE", ExitCode::kDamaged},
    ReasonRule{"KEY_MISSING", ExitCode::kDamaged},
    ReasonRule{"REPLICA_MISSING", ExitCode::kDamaged},
    ReasonRule{"BUNDLE_CUT", ExitCode::kFailed},
    ReasonRule{"BUNDLE_DAMAGED", ExitCode::kFailed},
};

ExitCode ExitCodeOf(absl::StatusCode code) {
  switch (code) {
    case absl::StatusCode::kOk:
      return ExitCode::kDone;
    case absl::StatusCode::kInvalidArgument:
      return ExitCode::kUsage;
    case absl::StatusCode::kNotFound:
      return ExitCode::kNothing;
    case absl::StatusCode::kPermissionDenied:
    case absl::StatusCode::kUnauthenticated:
      return ExitCode::kNotAllowed;
    case absl::StatusCode::kFailedPrecondition:
    case absl::StatusCode::kAborted:
      return ExitCode::kUnsettled;
    case absl::StatusCode::kUnavailable:
    case absl::StatusCode::kDeadlineExceeded:
      return ExitCode::kOffline;
    case absl::StatusCode::kDataLoss:
      return ExitCode::kDamaged;
    case absl::StatusCode::kCancelled:
      return ExitCode::kInterrupted;
    default:
      return ExitCode::kFailed;
  }
}

}  // namespace

ExitCode ExitCodeOf(const absl::Status& status) {
  const std::string reason = ReasonOf(status);
  for (const ReasonRule& rule : kReasonRules) {
    if (rule.reason == reason) return rule.exit_code;
  }
  return ExitCodeOf(status.code());
}

std::string ExitCodeHelp() {
  return R"(Exit codes

A code keeps its meaning for ever. Treat a code that you do not know as a failure. With --json,
an error is one line on standard error, with the reason that tells apart what a code groups:
  {"error":{"reason":"UNKNOWN_SUBJECT","message":"...","exit":3}}

    0  Done, or already so. `sync --follow` ends with 0 too when it is stopped.
    1  It did not work; the message says why.
         DISK_FULL, FILE_READ, FILE_WRITE, PDF_FAILED, STORE_READ, STORE_WRITE, KEY_EXPOSED,
         ALREADY_STARTED, REPLICA_NEWER, SERVER_OTHER, SERVER_TAKEN, HEAD_SIGNATURE_BAD,
         EPOCH_SIGNATURE_BAD, SIGNATURE_BAD, TOO_MANY_TRIES, BUNDLE_CUT, BUNDLE_DAMAGED, BUNDLE_TOO_LARGE, MAIL_FULL,
         TOO_MANY_RECIPIENTS
    2  The command line is wrong; nothing was tried.
         USAGE, AMBIGUOUS_SUBJECT, AMBIGUOUS_LOAN, LENDER_IS_BORROWER, NAME_EMPTY, NAME_TOO_LONG,
         TEXT_MALFORMED, DATE_SYNTAX, DATE_IMPOSSIBLE, DATE_OUT_OF_RANGE, DATE_IN_FUTURE,
         DATE_PAST, COUNTS_DO_NOT_ADD_UP, SLINGS_OUT_OF_RANGE, TERMS_SYNTAX, REGION_SYNTAX,
         QUERY_FORM, COMMIT_FORM, INVITE_CODE, INVITE_CODE_NEWER, SHEET_FORM, QR_TOO_LONG,
         TOO_MANY_PICKS, BUNDLE_FORM, TEXT_EMPTY, READER_ITSELF
    3  The question is fine, and the answer is empty.
         UNKNOWN_SUBJECT, NO_MATCH, INVITE_UNKNOWN, NO_NOTE, FILE_MISSING
    4  You may not do that.
         NOT_HOLDER, NOT_OWNER, NOT_PARTY and other reasons of a void verdict, CLAIM_WRONG,
         DEVICE_UNKNOWN
    5  A clash, a signature or an earlier step stands in the way.
         NOT_STARTED, NO_COOPERATIVE, NO_SERVER, ALREADY_MEMBER, COOPERATIVE_OTHER, NAME_TAKEN,
         INVITE_USED, TERMS_UNSIGNED, ALREADY_COUNTED, CLUTCH_NOT_COUNTED, CERTIFICATE_EXPIRED,
         CHAIN_FORK, DUE_UNDISCLOSED, NOT_OFFERED, NOTHING_TO_SIGN, NOT_SHARED_OUT, SHEET_DIFFERS,
         CLOCK_WRONG, READER_WITHOUT_KEY, NOTE_CONCURRENT, HISTORY_MISSING, SERVER_EMPTY, SEEN_AHEAD,
         SEEN_OTHER, SERVER_UNKNOWN, FOLD_OTHER, and what was refused or superseded
    6  The server cannot be reached, or is too busy; what you recorded is kept.
         SERVER_AWAY, SERVER_BUSY, SERVER_BEHIND
    7  Another process holds the replica.
         REPLICA_BUSY, REPLICA_BEGINNING
    8  The replica is damaged; see `broodpact verify`.
         HOME_DAMAGED, KEY_MISSING, KEY_DAMAGED, REPLICA_MISSING, REPLICA_FAULTY, STORE_DAMAGED,
         CERTIFICATE_DAMAGED, LOG_SHORTER, CHAIN_HOLE, or the server is not to be trusted, see
         `broodpact heads`: LOG_OTHER, LOG_FORKED, LOG_SHRUNK, PROOF_WRONG
  130  Interrupted. Run the command again: it goes on from where it was.
)";
}

}  // namespace broodpact::cli
