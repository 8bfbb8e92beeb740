#pragma once

// The second reading of a bundle, of its log: appends what is new, up to the head that vouches for
// it; or carries what is missing here of a log that the server does not tell any more.

#include <cstddef>
#include <cstdint>

#include "absl/status/status.h"

#include "client/facts/chain.h"
#include "client/facts/range.h"
#include "client/replica/internal/mail.h"
#include "client/replica/ledger.h"
#include "client/replica/replica.h"
#include "client/sync/bundle.h"

namespace broodpact::replica {

class BundleLogIntake {
 public:
  // Takes nothing beyond arrival `last`. `ledger` outlives this.
  BundleLogIntake(Ledger& ledger, const facts::ChainId& own, std::uint64_t last)
      : ledger_(ledger), own_(own), last_(last) {
    range_.before = range_.after = ledger.point();
  }

  // Errors: those of facts::ReadOnto and Ledger::Append.
  absl::Status Add(const sync::BundleLog& log);

  std::uint64_t taken() const { return taken_; }

 private:
  absl::Status Flush();

  Ledger& ledger_;
  facts::ChainId own_;
  std::uint64_t last_;
  facts::Range range_;
  std::size_t bytes_ = 0;
  std::uint64_t taken_ = 0;
};

// Takes what is missing here of a log that the server does not tell any more: perhaps nobody else
// has it. The rest is not counted: it is not what the bundle was written for.
// Errors: those of MailIntake::Add.
absl::Status CarryMissing(const sync::BundleLog& log, MailIntake& mail, BundleReport& report);

}  // namespace broodpact::replica
