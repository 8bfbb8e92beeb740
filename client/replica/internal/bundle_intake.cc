#include "client/replica/internal/bundle_intake.h"

#include <utility>
#include <vector>

#include "client/base/status.h"
#include "client/facts/arrival.h"
#include "client/sync/session.h"

namespace broodpact::replica {

absl::Status BundleLogIntake::Add(const sync::BundleLog& log) {
  const std::uint64_t here = range_.after.arrivals;
  if (log.arrivals_before > here || here >= last_) return absl::OkStatus();
  BP_ASSIGN_OR_RETURN(const std::string known,
                      facts::FirstRecords(log.records, here - log.arrivals_before));
  const std::string_view rest = std::string_view(log.records).substr(known.size());
  BP_ASSIGN_OR_RETURN(const std::string fresh, facts::FirstRecords(rest, last_ - here));
  BP_RETURN_IF_ERROR(facts::ReadOnto(range_, fresh));
  bytes_ += fresh.size();
  const bool full =
      range_.arrivals.size() >= sync::kRangeCommitsMax || bytes_ >= sync::kRangeBytesMax;
  return full || range_.after.arrivals == last_ ? Flush() : absl::OkStatus();
}

absl::Status BundleLogIntake::Flush() {
  BP_RETURN_IF_ERROR(ledger_.Append(range_, own_, store::Durability::kSynced).status());
  taken_ += range_.arrivals.size();
  range_ = {.before = range_.after, .after = range_.after};
  bytes_ = 0;
  return absl::OkStatus();
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
