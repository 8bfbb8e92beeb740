#pragma once

// The second reading of a bundle, of its log: appends what is new, in the stages of the first one,
// up to the head that vouches for it; or carries what is missing here of a log that the server does
// not tell any more.

#include <cstddef>
#include <cstdint>
#include <utility>
#include <vector>

#include "absl/status/status.h"

#include "client/facts/chain.h"
#include "client/facts/range.h"
#include "client/replica/internal/bundle_survey.h"
#include "client/replica/internal/mail.h"
#include "client/replica/ledger.h"
#include "client/replica/replica.h"
#include "client/store/store.h"
#include "client/sync/bundle.h"
#include "client/sync/head.h"

namespace broodpact::replica {

class BundleLogIntake {
 public:
  // `stages` are those of BundleSurvey. `ledger` outlives this.
  BundleLogIntake(Ledger& ledger, const facts::ChainId& own, std::vector<facts::LogPoint> stages)
      : ledger_(ledger),
        own_(own),
        stages_(std::move(stages)),
        here_(ledger.point().arrivals),
        path_(here_) {
    range_.before = range_.after = ledger.point();
  }

  // The log's blocks in their order. Each stage is stored whole once it is all here, and only if it
  // ends as it did at the first reading: whoever can change the file in between brings nothing in,
  // and what was stored before that is vouched for all the same.
  // Errors: DATA_LOSS with reason BUNDLE_DAMAGED (the log is not the one of the first reading);
  // those of facts::ReadOnto and Ledger::Append. Nothing of that stage is then stored.
  absl::Status Add(const sync::BundleLog& log);

  // At the end of the bundle. Errors: BUNDLE_DAMAGED, as above, where a stage did not come.
  absl::Status Finish() const;

  std::uint64_t taken() const { return taken_; }

 private:
  // Stores what has been read as the next stage.
  absl::Status TakeStage();

  Ledger& ledger_;
  facts::ChainId own_;
  std::vector<facts::LogPoint> stages_;
  std::size_t stage_ = 0;  // the next one; none beyond the last
  std::uint64_t here_;     // arrivals that need not be taken
  BundlePath path_;
  facts::Range range_;
  std::size_t bytes_ = 0;
  std::uint64_t taken_ = 0;
};

// Keeps the head that vouches for what was taken: as the last one if the log has come to it, else
// as a promise, unless there is one: that may show that the server tells two histories.
// Errors: those of the store.
absl::Status KeepVouching(store::Store& database, const sync::Head& head);

// Takes what is missing here of a log that the server does not tell any more: perhaps nobody else
// has it. The rest is not counted: it is not what the bundle was written for.
// Errors: those of MailIntake::Add.
absl::Status CarryMissing(const sync::BundleLog& log, MailIntake& mail, BundleReport& report);

}  // namespace broodpact::replica
