#include "server/arrival_log.h"

#include <algorithm>
#include <iterator>
#include <optional>
#include <utility>

#include <fmt/format.h>

#include "client/base/status.h"
#include "server/answer.h"
#include "server/epochs.h"

namespace broodpact::server {
namespace {

absl::Status BusyError() {
  return Fail(absl::StatusCode::kResourceExhausted, "SERVER_BUSY",
              "the server has more to write than it takes on; nothing is lost, sync again in a "
              "minute");
}

bool ProvesTimes(const Run& run) {
  return std::ranges::any_of(run.first_times_ms,
                             [](const auto& time_ms) { return time_ms.has_value(); });
}

}  // namespace

absl::StatusOr<facts::ChainHead> ArrivalLog::Arrivals::HeadOf(const facts::ChainId& chain) const {
  return log_.store_.HeadOf(chain);
}

absl::StatusOr<Hash> ArrivalLog::Arrivals::HashAt(const facts::ChainId& chain,
                                                  std::uint64_t seq) const {
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> bytes, log_.store_.CommitAt(chain, seq));
  if (!bytes) {
    return Fail(absl::StatusCode::kDataLoss, "STORE_DAMAGED",
                fmt::format("commit {} of device {} has no arrival; verify this server's replica",
                            seq, ToText(chain.device)));
  }
  return Sha256(*bytes);
}

absl::StatusOr<Hash> ArrivalLog::Arrivals::LogHashAt(std::uint64_t arrivals) const {
  return log_.store_.LogHashAt(arrivals);
}

absl::StatusOr<std::vector<Hash>> ArrivalLog::Arrivals::LogHashesAfter(const facts::LogPoint& point,
                                                                       std::uint64_t last) const {
  std::vector<Hash> log_hashes;
  Hash log_hash = point.log_hash;
  BP_RETURN_IF_ERROR(log_.store_.VisitArrivals(
      point.arrivals + 1, last, [&](std::uint64_t, const store::StoredArrival& stored) {
        log_hash = facts::NextLogHash(log_hash, Sha256(stored.bytes), facts::TimesOf(stored));
        log_hashes.push_back(log_hash);
        return absl::OkStatus();
      }));
  return log_hashes;
}

absl::StatusOr<std::int64_t> ArrivalLog::Arrivals::TimeOf(std::uint64_t arrival) const {
  BP_ASSIGN_OR_RETURN(const store::StoredArrival stored, log_.store_.ReadArrival(arrival));
  return stored.time_ms;
}

bool ArrivalLog::Arrivals::HasLost(std::uint64_t arrivals) const {
  return sync::MayBeLost(log_.epochs(), arrivals);
}

ArrivalLog::ArrivalLog(const Surroundings& surroundings, const LogEnd& end, sync::Epochs epochs)
    : store_(surroundings.store),
      clock_(surroundings.clock),
      log_(surroundings.log),
      log_key_(surroundings.log_key),
      pace_(surroundings.pace),
      on_written_(surroundings.on_written),
      arrivals_(*this),
      seen_places_(arrivals_),
      ledger_(surroundings.store),
      end_(end),
      herald_(std::make_unique<Herald>(Herald::Surroundings{.store = surroundings.store,
                                                            .log_key = surroundings.log_key,
                                                            .clock = surroundings.clock,
                                                            .pace = surroundings.pace},
                                       ledger_.cooperative(), end)),
      epochs_(std::move(epochs)),
      cooperative_(ledger_.cooperative()) {}

absl::StatusOr<std::unique_ptr<ArrivalLog>> ArrivalLog::Start(const Surroundings& surroundings) {
  BP_ASSIGN_OR_RETURN(sync::Epochs epochs, ReadEpochs(surroundings.store));
  BP_ASSIGN_OR_RETURN(const LogEnd end, EndOf(surroundings.store, PresentEpoch(epochs)));
  std::unique_ptr<ArrivalLog> log(new ArrivalLog(surroundings, end, std::move(epochs)));
  BP_ASSIGN_OR_RETURN(log->predecessor_, ReadPredecessor(surroundings.store));
  const facts::LogPoint point = end.point;
  if (point.arrivals > 0) {
    BP_ASSIGN_OR_RETURN(const store::StoredArrival last,
                        surroundings.store.ReadArrival(point.arrivals));
    log->time_last_ms_ = last.time_ms;
  }
  if (surroundings.pace == Pace::kThreads) {
    log->writer_ = std::thread([writing = log.get()] { writing->Write(); });
  }
  return log;
}

ArrivalLog::~ArrivalLog() {
  Stop();
}

Hash ArrivalLog::cooperative() const {
  const std::lock_guard lock(mutex_);
  return cooperative_;
}

void ArrivalLog::Submit(Submission submission) {
  absl::Status refusal;
  {
    const std::lock_guard lock(mutex_);
    if (stopping_) {
      refusal = StoppingError();
    } else if (waiting_bytes_ + submission.run.bytes_size > kWaitingBytesMax) {
      refusal = BusyError();
    } else {
      waiting_bytes_ += submission.run.bytes_size;
      waiting_.push_back(std::move(submission));
      changed_.notify_one();
      return;
    }
  }
  submission.answer(refusal);
}

void ArrivalLog::Stop() {
  {
    const std::lock_guard lock(mutex_);
    stopping_ = true;
    changed_.notify_one();
  }
  if (writer_.joinable()) writer_.join();
  herald_->Stop();
}

bool ArrivalLog::Work() {
  std::vector<Submission> submissions;
  {
    const std::lock_guard lock(mutex_);
    submissions = TakeSubmissions();
  }
  if (submissions.empty()) return false;
  WriteGroup(std::move(submissions));
  herald_->Work();
  return true;
}

void ArrivalLog::Write() {
  while (true) {
    std::vector<Submission> submissions = AwaitSubmissions();
    if (submissions.empty()) return;
    WriteGroup(std::move(submissions));
  }
}

std::vector<Submission> ArrivalLog::AwaitSubmissions() {
  while (true) {
    {
      std::unique_lock lock(mutex_);
      changed_.wait(lock, [this] { return !waiting_.empty() || !errands_.empty() || stopping_; });
      if (errands_.empty()) return TakeSubmissions();
    }
    RunErrands();
  }
}

std::vector<Submission> ArrivalLog::TakeSubmissions() {
  std::vector<Submission> taken;
  std::size_t bytes = 0;
  while (!waiting_.empty() && bytes < kGroupBytesMax) {
    bytes += waiting_.front().run.bytes_size;
    taken.push_back(std::move(waiting_.front()));
    waiting_.pop_front();
  }
  waiting_bytes_ -= bytes;
  // An author may bring, not knowing that it had arrived, what somebody beside him brings with the
  // day that it had arrived on: that day is to hold, whoever of the two was the first at the door.
  std::ranges::stable_partition(taken, [](const Submission& one) { return ProvesTimes(one.run); });
  return taken;
}

void ArrivalLog::WriteGroup(std::vector<Submission> submissions) {
  std::vector<Outcome> outcomes;
  std::vector<Place> places;
  std::vector<Submission> later;
  std::optional<Group> group;
  for (Submission& submission : submissions) {
    absl::Status status = Prepare(submission);
    // The point is known only now: the founding commit's preparation makes the beginning of a log.
    if (!group.has_value()) group.emplace(store_.point(), NextTime(), arrivals_, seen_places_);
    const std::size_t first_arrival = group->range().arrivals.size();
    const std::uint64_t last_seq = submission.run.commits.back().header.seq;
    std::uint32_t fresh = 0;
    if (status.ok()) {
      const absl::StatusOr<Placement> placement = group->Add(submission.run);
      if (placement.ok() && *placement == Placement::kLater) {
        later.push_back(std::move(submission));
        continue;
      }
      if (placement.ok() && *placement == Placement::kAdded) {
        places.push_back({.outcome = outcomes.size(), .first_arrival = first_arrival});
        fresh = static_cast<std::uint32_t>(group->range().arrivals.size() - first_arrival);
      }
      status = placement.status();
    }
    outcomes.push_back({.answer = std::move(submission.answer),
                        .status = std::move(status),
                        .chain_seq = last_seq,
                        .fresh = fresh,
                        .verdict = {}});
  }
  if (!places.empty()) {
    const absl::Status appended = AppendGroup(*group, places, outcomes);
    if (!appended.ok()) {
      log_.Write(Level::kError, "group_lost",
                 {{"reason", ReasonOf(appended)},
                  {"commits", fmt::to_string(group->range().arrivals.size())}});
      for (const Place& place : places) outcomes[place.outcome].status = appended;
    }
  }
  PutBack(std::move(later));
  herald_->Announce(ledger_.cooperative(), end_, std::move(outcomes));
}

absl::Status ArrivalLog::Prepare(const Submission& submission) {
  if (submission.founds) {
    const Hash& founding = submission.run.commits.front().hash;
    if (ledger_.cooperative() == Hash{}) {
      BP_RETURN_IF_ERROR(ledger_.SetCooperative(founding));
      end_.point = store_.point();
      const std::lock_guard lock(mutex_);
      cooperative_ = founding;
    } else if (ledger_.cooperative() != founding) {
      return Fail(absl::StatusCode::kAlreadyExists, "SERVER_TAKEN",
                  "this server belongs to a cooperative already; set up another one");
    }
  }
  for (const auto& [name, value] : submission.meta) {
    BP_RETURN_IF_ERROR(store_.PutMeta(name, value));
  }
  return absl::OkStatus();
}

absl::Status ArrivalLog::AppendGroup(const Group& group, const std::vector<Place>& places,
                                     std::vector<Outcome>& outcomes) {
  BP_ASSIGN_OR_RETURN(const std::vector<registry::Verdict> verdicts,
                      ledger_.AppendChecked(group.range(), group.heads(), std::nullopt,
                                            store::Durability::kSynced));
  for (const Place& place : places) {
    outcomes[place.outcome].verdict = verdicts[place.first_arrival];
  }
  BP_ASSIGN_OR_RETURN(end_, EndOf(store_, PresentEpoch(epochs())));
  log_.Write(Level::kDebug, "group_written",
             {{"runs", fmt::to_string(places.size())},
              {"commits", fmt::to_string(group.range().arrivals.size())},
              {"arrivals", fmt::to_string(group.range().after.arrivals)}});
  if (on_written_) on_written_();
  return absl::OkStatus();
}

void ArrivalLog::PutBack(std::vector<Submission> submissions) {
  const std::lock_guard lock(mutex_);
  for (const Submission& submission : submissions) waiting_bytes_ += submission.run.bytes_size;
  waiting_.insert(waiting_.begin(), std::make_move_iterator(submissions.begin()),
                  std::make_move_iterator(submissions.end()));
}

std::int64_t ArrivalLog::NextTime() {
  time_last_ms_ = std::max(time_last_ms_, clock_.NowMillis());
  return time_last_ms_;
}

}  // namespace broodpact::server
