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
    BP_ASSIGN_OR_RETURN(const std::int64_t fresh_bytes, FreshBytesOf(*run));
    waiting_.push_back({.first_at = letter.first_at,
                        .count = static_cast<std::uint32_t>(letter.commits.size()),
                        .fresh_bytes = fresh_bytes});
    submissions_.push_back({.run = *std::move(run), .meta = {}, .founds = false, .answer = {}});
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

absl::StatusOr<std::int64_t> Redelivery::FreshBytesOf(const Run& run) const {
  BP_ASSIGN_OR_RETURN(const facts::ChainHead head, callers_.HeadOf(run.chain));
  std::size_t bytes = 0;
  for (std::size_t i = 0; i < run.commits.size(); ++i) {
    // Another commit at a place that is taken does not arrive.
    const bool arrived = run.commits[i].header.seq <= head.seq || run.first_times_ms[i];
    if (!arrived) bytes += run.bytes[i].size();
  }
  return static_cast<std::int64_t>(bytes == 0 ? 0 : bytes + run.signature.size());
}

absl::Status Redelivery::Pay(const std::vector<Waiting>& runs) const {
  std::int64_t bytes = 0;
  for (const Waiting& run : runs) bytes += run.fresh_bytes;
  if (bytes == 0) return absl::OkStatus();
  return bringer_.allowance.Take(bringer_.device, bytes, bringer_.now_ms);
}

void Redelivery::Refund(const std::vector<Waiting>& runs,
                        const std::vector<absl::StatusOr<Receipt>>& receipts) const {
  std::int64_t bytes = 0;
  for (std::size_t i = 0; i < receipts.size(); ++i) {
    const bool arrived = receipts[i].ok() && receipts[i]->fresh > 0;
    if (!arrived) bytes += runs[i].fresh_bytes;
  }
  bringer_.allowance.PutBack(bringer_.device, bytes);
}

absl::Status Redelivery::Flush() {
  const std::vector<Waiting> runs = std::exchange(waiting_, {});
  std::vector<Submission> submissions = std::exchange(submissions_, {});
  BP_RETURN_IF_ERROR(Pay(runs));
  const auto receipts = arrival_log_.Await(std::move(submissions));
  // Whoever carries what is refused brings it again and again, not knowing better.
  Refund(runs, receipts);
  for (std::size_t i = 0; i < receipts.size(); ++i) {
    if (receipts[i].ok()) {
      const std::uint32_t fresh = receipts[i]->fresh;
      arrived_ += fresh;
      known_ += runs[i].count - fresh;
    } else if (EndsAll(receipts[i].status())) {
      return receipts[i].status();
    } else {
      Refuse(runs[i].first_at, runs[i].count);
    }
  }
  return absl::OkStatus();
}

}  // namespace broodpact::server
