#pragma once

// Who vouches for a device: the part of the log that says whose devices are members', short enough
// to be read before anything else. A snapshot carries it, so that a newcomer, who knows nothing but
// the cooperative's id, can tell which of the devices that attest the snapshot are members'.
//
//   vouchers = run { run }
//   run      = varint(arrivals before it) varint(length) records{length}
//
// The records (facts/arrival.h) are consecutive arrivals of one run: from one that is about
// membership to the end of its run, which is signed. All of it is as its authors signed it; that
// nothing is left out, only the whole log can show.

#include <cstdint>
#include <string>
#include <utility>
#include <vector>

#include "absl/status/status.h"

#include "client/facts/commit.h"
#include "client/store/store.h"

namespace broodpact::replica {

// Bound of all vouchers of a log together.
inline constexpr std::size_t kVoucherBytesMax = 67'108'864;

// Whether a commit says who is a member or whose a device is, by the rules of this version: a
// snapshot is of one version, and no other starts from it.
bool IsOfMembership(const facts::Commit& commit);

// What a commit says of that, without what else it says.
facts::Commit MembershipIn(const facts::Commit& commit);

// Picks the vouchers out of a log, as parts that a snapshot carries.
class VoucherPicker {
 public:
  // The arrivals of a log in order, from the first on.
  // Errors: those of ParseCommit; RESOURCE_EXHAUSTED with reason VOUCHERS_TOO_LONG.
  absl::Status Add(std::uint64_t arrival, const store::StoredArrival& stored);

  std::vector<std::string> TakeParts() && { return std::move(parts_); }

 private:
  void EndRun();

  std::uint64_t before_ = 0;  // of the run that is being picked, if there is one
  std::string records_;
  std::vector<std::string> parts_;
  std::size_t bytes_ = 0;
};

}  // namespace broodpact::replica
