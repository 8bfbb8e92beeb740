// What the arrival log does besides giving places: takes back what it lost, notes that it lost it.
// On the thread that writes, between two groups.

#include <algorithm>
#include <future>
#include <optional>
#include <utility>

#include <fmt/format.h>

#include "client/base/status.h"
#include "server/answer.h"
#include "server/arrival_log.h"
#include "server/epochs.h"
#include "server/rotations.h"

namespace broodpact::server {
namespace {

// How often the place up to which a loss goes back may be told anew, each time an earlier one.
constexpr std::ptrdiff_t kEarlierPlacesMax = 8;

}  // namespace

void ArrivalLog::RunErrands() {
  std::deque<std::function<void()>> errands;
  {
    const std::lock_guard lock(mutex_);
    errands.swap(errands_);
  }
  for (const std::function<void()>& errand : errands) errand();
}

absl::Status ArrivalLog::Do(const std::function<absl::Status()>& errand) {
  // Shared: the herald may still be inside set_value when the wait here is over.
  const auto done = std::make_shared<std::promise<absl::Status>>();
  std::future<absl::Status> result = done->get_future();
  // Told by the herald, so that the head which follows from it is out by then.
  auto work = [this, done, &errand] {
    absl::Status status = errand();
    if (absl::StatusOr<LogEnd> end = EndOf(store_, PresentEpoch(epochs())); end.ok()) {
      end_ = *end;
    } else if (status.ok()) {
      status = end.status();
    }
    Outcome outcome;
    outcome.answer = [done](const absl::StatusOr<Receipt>& answer) {
      done->set_value(answer.status());
    };
    outcome.status = status;
    std::vector<Outcome> outcomes;
    outcomes.push_back(std::move(outcome));
    herald_->Announce(ledger_.cooperative(), end_, std::move(outcomes));
  };
  if (pace_ == Pace::kByHand) {
    work();
    herald_->Work();
    return result.get();
  }
  {
    const std::lock_guard lock(mutex_);
    if (stopping_) return StoppingError();
    errands_.emplace_back(std::move(work));
    changed_.notify_one();
  }
  return result.get();
}

absl::Status ArrivalLog::TakeBack(const facts::Range& range) {
  return Do([&]() -> absl::Status {
    BP_RETURN_IF_ERROR(ledger_.Append(range, std::nullopt, store::Durability::kSynced).status());
    time_last_ms_ = std::max(time_last_ms_, range.arrivals.back().time_ms);
    log_.Write(Level::kInfo, "taken_back",
               {{"commits", fmt::to_string(range.arrivals.size())},
                {"arrivals", fmt::to_string(range.after.arrivals)}});
    return absl::OkStatus();
  });
}

absl::Status ArrivalLog::NoteLoss(const sync::Head& lost, const facts::LogPoint& common) {
  return Do([&]() -> absl::Status {
    sync::Epochs epochs = this->epochs();
    const std::uint32_t present = PresentEpoch(epochs);
    if (sync::IsToldLost(epochs, lost, common)) return absl::OkStatus();
    // Whoever told of it first may have known of no earlier place; not many can.
    const auto told = std::ranges::count_if(epochs, [&](const sync::Epoch& one) {
      return one.lost_arrivals == lost.point.arrivals && one.common.arrivals > common.arrivals;
    });
    if (told >= kEarlierPlacesMax) return absl::OkStatus();
    if (std::max(present, lost.epoch) >= facts::kLastEpoch) {
      return Fail(absl::StatusCode::kResourceExhausted, "EPOCHS_SPENT",
                  "there are no more numbers for epochs; a registrar sets up another server");
    }
    epochs = sync::Joined(epochs, {sync::SignEpoch(log_key_, ledger_.cooperative(),
                                                   {.epoch = std::max(present, lost.epoch) + 1,
                                                    .common = common,
                                                    .lost_arrivals = lost.point.arrivals,
                                                    .time_ms = NextTime()})});
    log_.Write(Level::kWarn, "epoch_begun",
               {{"epoch", fmt::to_string(PresentEpoch(epochs))},
                {"common_arrivals", fmt::to_string(common.arrivals)},
                {"lost_arrivals", fmt::to_string(lost.point.arrivals)}});
    return SetEpochs(epochs);
  });
}

absl::Status ArrivalLog::NoteLeft(const PublicKey& log_key) {
  if (IsOurServer(log_key)) return absl::OkStatus();
  return Do([&]() -> absl::Status { return KeepLeftServer(store_, log_key); });
}

absl::Status ArrivalLog::NoteRotation(const DeviceId& from, const DeviceId& to) {
  return Do([&]() -> absl::Status { return KeepRotation(store_, from, to); });
}

absl::Status ArrivalLog::RememberEpochs(const sync::Epochs& told) {
  const sync::Epochs before = epochs();
  if (sync::Joined(before, told) == before) return absl::OkStatus();
  return Do([&]() -> absl::Status { return SetEpochs(sync::Joined(epochs(), told)); });
}

absl::Status ArrivalLog::InheritEpochs(const sync::Epochs& told) {
  const sync::Epochs before = epochs();
  const std::uint32_t present = PresentEpoch(before);
  sync::Epochs inherited;
  for (const sync::Epoch& one : told) {
    facts::EpochClaim claim = static_cast<const facts::EpochClaim&>(one);  // as this one signs it
    // A later number would say that heads of this server hold no longer.
    claim.epoch = std::min(claim.epoch, present);
    const bool known = std::ranges::any_of(before, [&](const sync::Epoch& own) {
      return own.epoch == claim.epoch && own.common == claim.common &&
             own.lost_arrivals == claim.lost_arrivals;
    });
    // Before the first loss of this one nothing of another's can have come here.
    if (known || claim.epoch == facts::kFirstEpoch) continue;
    inherited.push_back(sync::SignEpoch(log_key_, cooperative(), claim));
  }
  return RememberEpochs(inherited);
}

absl::Status ArrivalLog::SetEpochs(const sync::Epochs& epochs) {
  BP_RETURN_IF_ERROR(store_.PutMeta(kEpochsName, sync::EncodeEpochs(epochs)));
  {
    const std::lock_guard lock(mutex_);
    epochs_ = epochs;
  }
  epochs_changes_.fetch_add(1, std::memory_order_release);
  return absl::OkStatus();
}

absl::Status ArrivalLog::Succeed(const Hash& cooperative, const sync::Head& predecessor,
                                 const std::map<std::string, std::string>& meta) {
  return Do([&]() -> absl::Status {
    const bool ours = ledger_.cooperative() == cooperative;
    // Until it has arrivals the newest claim stands: who was cut off may know more by now.
    BP_ASSIGN_OR_RETURN(const std::optional<Predecessor> standing, ReadPredecessor(store_));
    const bool repeats = standing && standing->log_key == predecessor.server_key &&
                         standing->arrivals == predecessor.point.arrivals && !epochs().empty();
    if (ours && (repeats || store_.point().arrivals > 0)) return absl::OkStatus();
    if (!ours && ledger_.cooperative() != Hash{}) {
      return Fail(absl::StatusCode::kAlreadyExists, "SERVER_TAKEN",
                  "this server belongs to a cooperative already; set up another one");
    }
    const Predecessor before{.log_key = predecessor.server_key,
                             .arrivals = predecessor.point.arrivals};
    BP_RETURN_IF_ERROR(store_.PutMeta(kPredecessorName, EncodePredecessor(before)));
    for (const auto& [name, value] : meta) BP_RETURN_IF_ERROR(store_.PutMeta(name, value));
    // Last: from here on the server is taken.
    if (!ours) BP_RETURN_IF_ERROR(ledger_.SetCooperative(cooperative));
    {
      const std::lock_guard lock(mutex_);
      cooperative_ = cooperative;
      predecessor_ = before;
    }
    log_.Write(Level::kWarn, "succeeded",
               {{"arrivals", fmt::to_string(predecessor.point.arrivals)},
                {"epoch", fmt::to_string(predecessor.epoch + 1)}});
    // The heads of the other one hold up to the last that was shown here.
    return SetEpochs(
        sync::Joined(epochs(), {sync::SignEpoch(log_key_, cooperative,
                                                {.epoch = predecessor.epoch + 1,
                                                 .common = predecessor.point,
                                                 .lost_arrivals = predecessor.point.arrivals,
                                                 .time_ms = NextTime()})}));
  });
}

bool ArrivalLog::MayFill(const sync::Head& head) const {
  if (head.server_key == log_key_.public_key()) return true;
  const std::lock_guard lock(mutex_);
  return predecessor_ && predecessor_->log_key == head.server_key &&
         head.point.arrivals <= predecessor_->arrivals;
}

bool ArrivalLog::IsOurServer(const PublicKey& log_key) const {
  if (log_key == log_key_.public_key()) return true;
  const std::lock_guard lock(mutex_);
  return predecessor_ && predecessor_->log_key == log_key;
}

absl::StatusOr<sync::Head> ArrivalLog::HeadAt(std::uint64_t arrivals) const {
  facts::HeadClaim claim{.epoch = PresentEpoch(epochs()),
                         .point = {.arrivals = arrivals, .log_hash = {}},
                         .tree_root = {},
                         .time_ms = clock_.NowMillis()};
  BP_ASSIGN_OR_RETURN(claim.point.log_hash, store_.LogHashAt(arrivals));
  BP_ASSIGN_OR_RETURN(claim.tree_root, store_.TreeRootAt(arrivals));
  return sync::SignHead(log_key_, cooperative(), claim);
}

sync::Epochs ArrivalLog::epochs() const {
  const std::lock_guard lock(mutex_);
  return epochs_;
}

std::vector<absl::StatusOr<Receipt>> ArrivalLog::Await(std::vector<Submission> submissions) {
  // Shared: the herald may still be inside set_value when the wait here is over.
  using Promise = std::promise<absl::StatusOr<Receipt>>;
  std::vector<std::shared_ptr<Promise>> promises;
  for (Submission& submission : submissions) {
    promises.push_back(std::make_shared<Promise>());
    submission.answer = [promise = promises.back()](const absl::StatusOr<Receipt>& answer) {
      promise->set_value(answer);
    };
    Submit(std::move(submission));
  }
  while (pace_ == Pace::kByHand && Work()) continue;
  std::vector<absl::StatusOr<Receipt>> receipts;
  receipts.reserve(promises.size());
  for (const std::shared_ptr<Promise>& promise : promises) {
    receipts.push_back(promise->get_future().get());
  }
  return receipts;
}

}  // namespace broodpact::server
