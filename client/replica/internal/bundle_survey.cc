#include "client/replica/internal/bundle_survey.h"

#include "client/base/status.h"
#include "client/replica/internal/known_log.h"

namespace broodpact::replica {
namespace {

absl::Status CheckCooperative(const std::optional<sync::BundleHeader>& header,
                              const Hash& cooperative) {
  if (!header || header->cooperative == cooperative) return absl::OkStatus();
  return Fail(absl::StatusCode::kFailedPrecondition, "COOPERATIVE_OTHER",
              "the bundle is of another cooperative than this replica");
}

}  // namespace

bool BundlePath::TakesUp(const sync::BundleLog& log) {
  if (!at_ && log.arrivals_before <= here_) at_ = log.arrivals_before;
  return at_ == log.arrivals_before;
}

absl::Status BundleSurvey::Add(const sync::BundleBlock& block) {
  BP_RETURN_IF_ERROR(CheckCooperative(block.header, cooperative_));
  if (!block.epochs.empty()) BP_RETURN_IF_ERROR(AddEpochs(block.epochs));
  if (block.head) BP_RETURN_IF_ERROR(AddHead(*block.head));
  if (block.log) BP_RETURN_IF_ERROR(AddLog(*block.log));
  return absl::OkStatus();
}

std::vector<facts::LogPoint> BundleSurvey::stages() const {
  std::vector<facts::LogPoint> ends;
  if (!vouching_) return ends;
  for (const facts::LogPoint& end : stage_ends_) {
    if (end.arrivals < vouching_->point.arrivals) ends.push_back(end);
  }
  ends.push_back(vouching_->point);
  return ends;
}

PassedOver BundleSurvey::passed_over() const {
  if (vouching_) return PassedOver::kNothing;
  if (of_other_server_) return PassedOver::kOtherServer;
  if (after_loss_) return PassedOver::kAfterLoss;
  if (lost_head_) return PassedOver::kLost;
  return begins_later_ ? PassedOver::kBeginsLater : PassedOver::kNothing;
}

absl::Status BundleSurvey::AddEpochs(sync::Epochs told) {
  if (!known_) return absl::OkStatus();
  BP_ASSIGN_OR_RETURN(const KnownLog known, ReadKnownLog(store_));
  std::erase_if(told, [&](const sync::Epoch& epoch) {
    // One that was left may have gone on for others: how its epochs go with those of the server of
    // today, that one says.
    const bool of_today =
        epoch.server_key == known_->server_key ||
        (!known.successors.empty() && epoch.server_key == known.successors.back());
    return !of_today || !sync::VerifyEpoch(epoch, cooperative_);
  });
  return KeepEpochs(store_, told);
}

absl::Status BundleSurvey::AddHead(const sync::Head& head) {
  if (!known_ || heads_.size() >= kHeadsMax) return absl::OkStatus();
  if (!sync::VerifyHead(head, cooperative_)) return absl::OkStatus();
  BP_ASSIGN_OR_RETURN(const KnownLog known, ReadKnownLog(store_));
  if (!known.WasServer(head.server_key)) {
    of_other_server_ = true;
    return absl::OkStatus();
  }
  if (sync::IsVoid(known.epochs, head)) {
    NoteLost(head);
    return absl::OkStatus();
  }
  BP_ASSIGN_OR_RETURN(const HeadFit fit, FitOf(store_, head));
  const bool of_ours = head.server_key == known_->server_key;
  of_other_server_ = of_other_server_ || (!of_ours && fit != HeadFit::kOurs);
  // What one had that was left, whose epochs say nothing of it: the server of today may lack it.
  if (!of_ours && fit != HeadFit::kOurs) NoteLost(head);
  if (!of_ours) return absl::OkStatus();
  if (fit == HeadFit::kAhead) heads_[head.point.arrivals] = head;
  if (fit == HeadFit::kOther) NoteOther(head);
  return absl::OkStatus();
}

void BundleSurvey::NoteOther(const sync::Head& head) {
  if (!known_) return;
  if (head.epoch > known_->epoch) {
    after_loss_ = true;
    return;
  }
  // The server may say that it has lost it, once it is shown.
  NoteLost(head);
  if (!doubt_) doubt_ = TwoHistories(*known_, head);
}

void BundleSurvey::NoteLost(const sync::Head& head) {
  const bool farther = !lost_head_ || lost_head_->point.arrivals < head.point.arrivals;
  if (farther) lost_head_ = head;
  if (lost_heads_.size() < kHeadsMax) lost_heads_[head.point.arrivals] = head;
}

absl::Status BundleSurvey::AddLog(const sync::BundleLog& log) {
  const bool begins = !path_.begun();
  const bool follows = path_.TakesUp(log);
  begins_later_ = !path_.begun();
  if (!follows || !known_) return absl::OkStatus();
  if (begins) {
    BP_ASSIGN_OR_RETURN(const Hash hash, store_.LogHashAt(log.arrivals_before));
    at_ = {.arrivals = log.arrivals_before, .log_hash = hash};
  }
  // To its end, whatever heads there are so far: the path is to follow from the log alone.
  facts::ArrivalReader reader(log.records);
  while (!reader.at_end()) {
    BP_ASSIGN_OR_RETURN(const facts::ArrivalView arrival, reader.Next());
    at_ = facts::PointAfter(at_, arrival);
    if (at_.arrivals > store_.point().arrivals) {
      ++stage_count_;
      stage_bytes_ += arrival.commit.size();
    }
    NoteReached(at_);
  }
  path_.ComeTo(at_.arrivals);
  EndStage();
  return absl::OkStatus();
}

void BundleSurvey::EndStage() {
  const bool full = stage_count_ >= stage_arrivals_ || stage_bytes_ >= sync::kRangeBytesMax;
  if (!full || stage_ends_.size() >= kStagesMax) return;
  stage_ends_.push_back(at_);
  stage_count_ = 0;
  stage_bytes_ = 0;
}

void BundleSurvey::NoteReached(const facts::LogPoint& at) {
  const facts::LogPoint end = store_.point();
  if (at.arrivals == end.arrivals && at.log_hash != end.log_hash) parts_ = true;
  const auto lost = lost_heads_.find(at.arrivals);
  if (lost != lost_heads_.end() && lost->second.point.log_hash == at.log_hash) {
    shown_lost_ = lost->second;
  }
  const auto head = heads_.find(at.arrivals);
  if (head == heads_.end() || head->second.point.log_hash != at.log_hash) return;
  if (parts_) {
    NoteOther(head->second);
  } else if (stage_ends_.size() < kStagesMax) {
    vouching_ = head->second;
  }
}

}  // namespace broodpact::replica
