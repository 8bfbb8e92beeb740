#pragma once

// What waits for somebody's word before it goes on: amendments of loans, and clutches that are
// counted and not shared out.

#include <cstdint>
#include <string>
#include <vector>

#include "absl/status/statusor.h"

#include "client/base/day.h"
#include "client/registry/state.h"
#include "client/registry/subject.h"

namespace broodpact::replica {

// A version of a loan's agreement that not all have signed yet.
struct OpenAmendment {
  LoanId loan{};
  Hash digest{};
  KeeperId proposer{};
  std::int64_t time_ms = 0;          // when it was proposed
  std::vector<KeeperId> missing{};   // in the order of the terms, then those whom it leaves out
  std::vector<ClutchId> clutches{};  // laid before, and to be shared by it
  std::size_t open = 1;              // how many of its loan may be signed, this one included
};

// Those of a loan that may still be signed on `day`, the oldest first.
std::vector<OpenAmendment> OpenAmendmentsOf(const registry::Loan& loan, Day day);

// Those of all loans that wait for the keeper's signature, by loan: of one whom an amendment names
// for the first time, and of a closed loan whose clutch is not shared out, too.
// Errors: those of the source.
absl::StatusOr<std::vector<OpenAmendment>> AmendmentsFor(const registry::Source& source,
                                                         const KeeperId& keeper, Day day);

// The beginning of a digest that tells a loan's versions apart, as `loan accept --version` takes
// it.
std::string VersionText(const Hash& digest);

// A clutch that is counted and not shared out, or not all of it.
struct Unsplit {
  ClutchId id{};
  std::string name{};
  std::uint32_t slings = 0;  // that wait
  bool shared_before = false;
  KeeperId witness{};  // whose word the terms ask for, and who has not given it; empty: nobody
  std::vector<OpenAmendment> amendments{};  // that would share it by other terms
};

// Those of which the keeper has a share, or whose count waits for him to confirm it; by id.
// Errors: those of the source.
absl::StatusOr<std::vector<Unsplit>> UnsplitOf(const registry::Source& source,
                                               const KeeperId& keeper, Day day);

}  // namespace broodpact::replica
