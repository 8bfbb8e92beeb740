#include "client/replica/internal/bundle_intake.h"

#include <string>
#include <utility>
#include <vector>

#include "client/base/status.h"
#include "client/facts/arrival.h"
#include "client/replica/internal/known_log.h"
#include "client/replica/internal/rep.h"
#include "client/sync/session.h"

namespace broodpact::replica {

namespace {

absl::Status OtherLogError() {
  return Fail(absl::StatusCode::kDataLoss, "BUNDLE_DAMAGED",
              "the log in the bundle was another one when it was read again; none of what differs "
              "was taken, copy the file and read it once more");
}

}  // namespace

absl::Status BundleLogIntake::Add(const sync::BundleLog& log) {
  if (stage_ == stages_.size() || !path_.TakesUp(log)) return absl::OkStatus();
  std::uint64_t at = log.arrivals_before;
  std::string fresh;
  facts::ArrivalReader reader(log.records);
  while (!reader.at_end() && stage_ < stages_.size()) {
    BP_ASSIGN_OR_RETURN(const facts::ArrivalView arrival, reader.Next());
    if (++at <= here_) continue;
    facts::AppendArrival(fresh, arrival);
    bytes_ += arrival.commit.size();
    if (at != stages_[stage_].arrivals) continue;
    BP_RETURN_IF_ERROR(facts::ReadOnto(range_, fresh));
    fresh.clear();
    BP_RETURN_IF_ERROR(TakeStage());
  }
  path_.ComeTo(at);
  // A stage ended with the block that filled it: whatever the file says now, no more is held.
  if (bytes_ > sync::kRangeBytesMax + sync::kBundleBlockBytesMax) return OtherLogError();
  return facts::ReadOnto(range_, fresh);
}

absl::Status BundleLogIntake::TakeStage() {
  if (range_.after != stages_[stage_]) return OtherLogError();
  BP_RETURN_IF_ERROR(ledger_.Append(range_, own_, store::Durability::kSynced).status());
  taken_ += range_.arrivals.size();
  range_ = {.before = range_.after, .after = range_.after};
  bytes_ = 0;
  ++stage_;
  return absl::OkStatus();
}

absl::Status BundleLogIntake::Finish() const {
  return stage_ == stages_.size() ? absl::OkStatus() : OtherLogError();
}

absl::Status KeepVouching(store::Store& database, const sync::Head& head) {
  const facts::LogPoint place = database.point();
  if (place == head.point) return database.PutMeta(kMetaHead, sync::EncodeHead(head));
  BP_ASSIGN_OR_RETURN(const KnownLog known, ReadKnownLog(database));
  if (known.promise) return absl::OkStatus();
  return database.PutMeta(kMetaPromised, EncodePromise({.head = head, .common = place}));
}

absl::Status CarryMissing(const sync::BundleLog& log, MailIntake& mail, BundleReport& report) {
  std::vector<facts::SignedCommit> commits;
  facts::ArrivalReader reader(log.records);
  while (!reader.at_end()) {
    BP_ASSIGN_OR_RETURN(const facts::ArrivalView arrival, reader.Next());
    commits.push_back({.bytes = std::string(arrival.commit),
                       .signature = arrival.signature.value_or(Signature{})});
  }
  BundleReport carried;
  absl::Status status = mail.Add(commits, carried);
  report.mail_taken += carried.mail_taken;
  return status;
}

}  // namespace broodpact::replica
