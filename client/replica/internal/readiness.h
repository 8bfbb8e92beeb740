#pragma once

// Where animals are, whether they are free, and how far away: what searches and plans know of their
// surroundings, read once.

#include <cstdint>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/status.h"

#include "client/base/day.h"
#include "client/match/candidates.h"
#include "client/registry/state.h"
#include "client/registry/subject.h"
#include "client/replica/internal/ref_book.h"

namespace broodpact::replica {

inline constexpr char kBorderCaution[] =
    "crossing a border: listed species may need papers; ask your authority";

struct Readiness {
  match::Availability availability = match::Availability::kFree;
  std::string text = "free";
};

// How far a keeper is from another.
struct Apart {
  match::Nearness nearness = match::Nearness::kNotSaid;
  std::optional<std::uint32_t> km{};  // coarse; nothing: not known
};

// "same region", "abroad", "not said".
std::string_view DistanceWord(match::Nearness nearness);

class Setting {
 public:
  // `source` and `refs` outlive it. `self` is the keeper who looks.
  Setting(const registry::Source& source, RefBook& refs, KeeperId self, Day day)
      : source_(source), refs_(refs), self_(self), day_(day) {}

  // Reads the holders and loans of all these animals in two reads. May be called again.
  absl::Status Prepare(const std::vector<registry::Animal>& animals);

  // Reads the regions of more keepers.
  absl::Status PrepareKeepers(std::vector<KeeperId> keepers);

  Apart ApartOf(const KeeperId& one, const KeeperId& other) const;
  Apart ApartOf(const registry::Animal& animal) const { return ApartOf(self_, animal.holder); }

  // Whether an animal is free for the keeper who looks.
  Readiness ReadinessOf(const registry::Animal& animal) { return ReadinessFor(self_, animal); }
  Readiness ReadinessFor(const KeeperId& keeper, const registry::Animal& animal);

  // Whether one of the keepers whom Prepare read has left the cooperative.
  bool HasLeft(const KeeperId& keeper) const;

  // The loan in force that has it, if any.
  const registry::Loan* LoanOf(const registry::Animal& animal) const;

 private:
  std::string_view RegionOf(const KeeperId& keeper) const;
  Readiness ReadinessOnLoan(const KeeperId& keeper, const registry::Animal& animal,
                            const registry::Loan& loan);
  // Of an animal under way: whom it goes to, as `keeper` is told.
  std::string WayText(const KeeperId& keeper, const registry::Animal& animal);

  const registry::Source& source_;
  RefBook& refs_;
  KeeperId self_;
  Day day_;
  std::map<KeeperId, std::string> regions_;
  std::set<KeeperId> left_;
  std::map<LoanId, registry::Loan> loans_;
};

}  // namespace broodpact::replica
