#include "server/door.h"

#include <optional>
#include <utility>
#include <variant>

#include "absl/status/status.h"
#include <fmt/format.h>

#include "client/base/status.h"
#include "client/facts/statement.h"
#include "client/sync/session.h"

namespace broodpact::server {
namespace {

absl::Status CheckSizes(const std::vector<std::string>& commits) {
  if (commits.empty()) {
    return Fail(absl::StatusCode::kInvalidArgument, "COMMIT_FORM", "a push holds no commit");
  }
  std::size_t size = 0;
  for (const std::string& commit : commits) size += commit.size();
  if (commits.size() > sync::kPushCommitsMax || size > sync::kPushBytesMax) {
    return Fail(
        absl::StatusCode::kResourceExhausted, "CHUNK_TOO_LARGE",
        fmt::format("a push has {} commits of {} bytes; at most {} and {} are taken at once",
                    commits.size(), size, sync::kPushCommitsMax, sync::kPushBytesMax));
  }
  return absl::OkStatus();
}

absl::Status CheckAuthor(const facts::Commit& commit, const Sender& sender) {
  if (commit.header.device != sender.device) {
    return Fail(absl::StatusCode::kInvalidArgument, "DEVICE_OTHER",
                fmt::format("commit {} is of device {}, not of the one that sends it",
                            commit.header.seq, ToText(commit.header.device)));
  }
  // Only the founding commit names no cooperative: it is its beginning.
  const bool founding = commit.header.cooperative == Hash{} && commit.hash == sender.cooperative;
  if (commit.header.cooperative != sender.cooperative && !founding) {
    return Fail(
        absl::StatusCode::kFailedPrecondition, "COOPERATIVE_OTHER",
        fmt::format("commit {} is of another cooperative than this server's", commit.header.seq));
  }
  return absl::OkStatus();
}

absl::Status SignatureError(std::uint64_t seq) {
  return Fail(absl::StatusCode::kInvalidArgument, "SIGNATURE_BAD",
              fmt::format("the signature under commit {} is not its device's; verify the replica "
                          "that sent it",
                          seq));
}

// The first statement, if it is of that kind.
template <typename Kind>
const Kind* FirstStatement(const facts::Commit& commit) {
  return commit.statements.empty() ? nullptr : std::get_if<Kind>(&commit.statements.front());
}

}  // namespace

absl::StatusOr<Run> CheckRun(std::vector<std::string> commits, std::string_view signature,
                             const Sender& sender) {
  BP_RETURN_IF_ERROR(CheckSizes(commits));
  Run run;
  run.commits.reserve(commits.size());
  for (const std::string& bytes : commits) {
    BP_ASSIGN_OR_RETURN(facts::Commit commit, facts::ParseCommit(bytes));
    BP_RETURN_IF_ERROR(CheckAuthor(commit, sender));
    if (!run.commits.empty()) {
      const facts::Commit& before = run.commits.back();
      if (facts::ChainOf(before.header) != facts::ChainOf(commit.header)) {
        return Fail(absl::StatusCode::kInvalidArgument, "COMMIT_FORM",
                    "a push holds commits of two incarnations; push them apart");
      }
      BP_RETURN_IF_ERROR(facts::CheckFollows(facts::HeadAfter(before), commit));
    }
    run.bytes_size += bytes.size();
    run.commits.push_back(std::move(commit));
  }
  const facts::Commit& last = run.commits.back();
  const std::optional<Signature> parsed = SignatureOfBytes(signature);
  if (!parsed.has_value() || !facts::VerifyCommit(sender.key, last.hash, *parsed)) {
    return SignatureError(last.header.seq);
  }
  run.chain = facts::ChainOf(last.header);
  run.signature = *parsed;
  run.bytes = std::move(commits);
  return run;
}

absl::StatusOr<Run> CheckFounding(std::string commit, std::string_view signature) {
  BP_ASSIGN_OR_RETURN(const facts::Commit parsed, facts::ParseCommit(commit));
  const auto* founding = FirstStatement<facts::Founding>(parsed);
  if (founding == nullptr || parsed.statements.size() != 1 || parsed.header.seq != 1 ||
      parsed.header.cooperative != Hash{}) {
    return Fail(absl::StatusCode::kInvalidArgument, "FOUNDING_FORM",
                "a founding commit is the first of its chain, and holds the founding alone");
  }
  std::vector<std::string> commits;
  commits.push_back(std::move(commit));
  return CheckRun(std::move(commits), signature,
                  {.cooperative = parsed.hash,
                   .device = DeviceOf(founding->device_key),
                   .key = founding->device_key});
}

std::optional<Entering> EnteringIn(const facts::Commit& commit) {
  if (const auto* joining = FirstStatement<facts::Joining>(commit)) {
    return Entering{.invite_key = joining->invite_key,
                    .keeper = joining->keeper,
                    .device_key = joining->device_key,
                    .invite_signature = joining->invite_signature};
  }
  if (const auto* joining = FirstStatement<facts::DeviceJoining>(commit)) {
    return Entering{.invite_key = joining->invite_key,
                    .keeper = joining->keeper,
                    .device_key = joining->device_key,
                    .invite_signature = joining->invite_signature};
  }
  return std::nullopt;
}

absl::StatusOr<Run> CheckJoining(std::string commit, std::string_view signature,
                                 const Hash& cooperative) {
  BP_ASSIGN_OR_RETURN(const facts::Commit parsed, facts::ParseCommit(commit));
  const std::optional<Entering> joining = EnteringIn(parsed);
  if (!joining || parsed.header.seq != 1) {
    return Fail(absl::StatusCode::kInvalidArgument, "JOINING_FORM",
                "a newcomer's first commit begins with its joining");
  }
  std::vector<std::string> commits;
  commits.push_back(std::move(commit));
  BP_ASSIGN_OR_RETURN(Run run, CheckRun(std::move(commits), signature,
                                        {.cooperative = cooperative,
                                         .device = DeviceOf(joining->device_key),
                                         .key = joining->device_key}));
  if (!VerifySignature(joining->invite_key,
                       facts::JoiningMessage(cooperative, joining->keeper, joining->device_key),
                       joining->invite_signature)) {
    return Fail(absl::StatusCode::kInvalidArgument, "SIGNATURE_BAD",
                "the invitation's signature under the joining is not good; ask for a new code");
  }
  return run;
}

}  // namespace broodpact::server
