#include "server/redelivery.h"

#include <algorithm>
#include <optional>
#include <utility>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/facts/arrival.h"

namespace broodpact::server {
namespace {

absl::Status RunError() {
  return Fail(absl::StatusCode::kInvalidArgument, "RECORD_FORM",
              "a run of commits ends without its signature");
}

// Whether the whole delivery ends with it: what the server has against one commit does not.
bool EndsAll(const absl::Status& status) {
  return absl::IsResourceExhausted(status) || absl::IsUnavailable(status) ||
         absl::IsInternal(status) || absl::IsDataLoss(status);
}

}  // namespace

absl::Status Redelivery::Deliver(std::string_view records, std::uint64_t proven) {
  facts::ArrivalReader reader(records);
  Letter letter;
  std::optional<facts::ChainId> chain;
  while (!reader.at_end()) {
    BP_ASSIGN_OR_RETURN(const facts::ArrivalView arrival, reader.Next());
    BP_ASSIGN_OR_RETURN(const facts::Commit commit, facts::ParseCommit(arrival.commit));
    if (chain && *chain != facts::ChainOf(commit.header)) return RunError();
    chain = facts::ChainOf(commit.header);
    if (letter.commits.empty()) letter.first_at = read_;
    letter.first_times_ms.push_back(
        read_ < proven ? std::optional<std::int64_t>(facts::FirstTimeOf(arrival)) : std::nullopt);
    ++read_;
    letter.device = commit.header.device;
    letter.commits.emplace_back(arrival.commit);
    if (!arrival.signature) continue;
    letter.signature = std::string(ViewOf(*arrival.signature));
    BP_RETURN_IF_ERROR(Take(std::exchange(letter, Letter{})));
    chain.reset();
  }
  if (chain) return RunError();
  return Flush();
}

absl::Status Redelivery::Take(const Letter& letter) {
  absl::StatusOr<Run> run = CheckedRun(letter);
  // Its author may be one whom a commit that waits brings in, or cuts off.
  if (!run.ok() && !waiting_.empty()) {
    BP_RETURN_IF_ERROR(Flush());
    run = CheckedRun(letter);
  }
  if (run.ok()) {
    waiting_.push_back({.run = *std::move(run), .meta = {}, .founds = false, .answer = {}});
    waiting_at_.push_back(letter.first_at);
    return absl::OkStatus();
  }
  if (EndsAll(run.status())) return run.status();
  Refuse(letter.first_at, letter.commits.size());
  return absl::OkStatus();
}

void Redelivery::Refuse(std::uint32_t first_at, std::size_t count) {
  for (std::uint32_t i = 0; i < count; ++i) refused_at_.push_back(first_at + i);
}

std::vector<std::uint32_t> Redelivery::refused_at() const {
  std::vector<std::uint32_t> places = refused_at_;
  std::ranges::sort(places);
  return places;
}

absl::StatusOr<Run> Redelivery::CheckedRun(const Letter& letter) const {
  BP_ASSIGN_OR_RETURN(const facts::Commit first, facts::ParseCommit(letter.commits.front()));
  Sender sender{.cooperative = arrival_log_.cooperative(), .device = letter.device, .key = {}};
  // A device's id is the hash of its key: the key that its first commit names is the right one.
  const std::optional<Entering> entering = EnteringIn(first);
  if (entering) {
    sender.key = entering->device_key;
    if (DeviceOf(sender.key) != letter.device) {
      return Fail(absl::StatusCode::kInvalidArgument, "DEVICE_OTHER",
                  "a joining names another device than its author");
    }
  } else {
    BP_ASSIGN_OR_RETURN(const Caller author, callers_.Author(letter.device));
    sender.key = author.key;
  }
  BP_ASSIGN_OR_RETURN(Run run, CheckRun(letter.commits, letter.signature, sender));
  run.first_times_ms = letter.first_times_ms;
  // What has its place has been let in.
  BP_ASSIGN_OR_RETURN(const bool placed, callers_.HasPlace(run.commits.back()));
  if (placed) return run;
  BP_RETURN_IF_ERROR(entering ? callers_.CheckEnters(run)
                              : callers_.CheckTaken(letter.device, run.commits));
  return run;
}

absl::Status Redelivery::Flush() {
  std::vector<std::uint32_t> counts;
  counts.reserve(waiting_.size());
  for (const Submission& one : waiting_) {
    counts.push_back(static_cast<std::uint32_t>(one.run.commits.size()));
  }
  const std::vector<std::uint32_t> first_at = std::exchange(waiting_at_, {});
  const auto receipts = arrival_log_.Await(std::exchange(waiting_, {}));
  for (std::size_t i = 0; i < receipts.size(); ++i) {
    if (receipts[i].ok()) {
      const std::uint32_t fresh = receipts[i]->fresh;
      arrived_ += fresh;
      known_ += counts[i] - fresh;
    } else if (EndsAll(receipts[i].status())) {
      return receipts[i].status();
    } else {
      Refuse(first_at[i], counts[i]);
    }
  }
  return absl::OkStatus();
}

}  // namespace broodpact::server
