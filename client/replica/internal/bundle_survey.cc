#include "client/replica/internal/bundle_survey.h"

#include <algorithm>

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

absl::Status BundleSurvey::Add(const sync::BundleBlock& block) {
  BP_RETURN_IF_ERROR(CheckCooperative(block.header, cooperative_));
  if (!block.epochs.empty()) BP_RETURN_IF_ERROR(AddEpochs(block.epochs));
  if (block.head) BP_RETURN_IF_ERROR(AddHead(*block.head));
  if (block.log) BP_RETURN_IF_ERROR(AddLog(*block.log));
  return absl::OkStatus();
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

std::uint64_t BundleSurvey::FarthestHead() const {
  std::uint64_t farthest = 0;
  for (const auto* heads : {&heads_, &lost_heads_}) {
    if (!heads->empty()) farthest = std::max(farthest, heads->rbegin()->first);
  }
  return farthest;
}

absl::Status BundleSurvey::AddLog(const sync::BundleLog& log) {
  if (!at_) {
    begins_later_ = log.arrivals_before > store_.point().arrivals;
    if (begins_later_) return absl::OkStatus();
    BP_ASSIGN_OR_RETURN(const Hash hash, store_.LogHashAt(log.arrivals_before));
    at_ = facts::LogPoint{log.arrivals_before, hash};
  }
  facts::LogPoint at = *at_;
  if (log.arrivals_before != at.arrivals) return absl::OkStatus();  // does not follow
  const std::uint64_t farthest = FarthestHead();
  facts::ArrivalReader reader(log.records);
  while (!reader.at_end() && at.arrivals < farthest) {
    BP_ASSIGN_OR_RETURN(const facts::ArrivalView arrival, reader.Next());
    at = facts::PointAfter(at, arrival);
    NoteReached(at);
  }
  at_ = at;
  return absl::OkStatus();
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
  } else {
    vouching_ = head->second;
  }
}

}  // namespace broodpact::replica
