#include "client/shares/running.h"

#include <algorithm>
#include <cstddef>

#include "client/base/check.h"
#include "client/base/status.h"

namespace broodpact::shares {
namespace {

// When a party may have its next sling and when it must have had it. Behind means: its quota of the
// total less its slings, in parts of the sum of weights.
struct Window {
  std::int64_t scale = 1;  // what `behind` is multiplied by, to be compared with the others
  std::int64_t opens = 0;  // it may have a sling when scaled `behind` is at least this
  std::int64_t ends = 0;   // it must have had one before scaled `behind` is more than this
};

Window WindowOf(RunningMethod method, std::int64_t claimants, std::int64_t weight_sum) {
  switch (method) {
    case RunningMethod::kQuota:
      // A sling more stays below the quota rounded up where any part of a sling is due.
      return {.scale = 1, .opens = 1, .ends = weight_sum};
    case RunningMethod::kChairman: {
      // Tijdeman's 1 / (2 n - 2); one party alone is like one of two.
      const std::int64_t scale = 2 * std::max<std::int64_t>(claimants, 2) - 2;
      return {.scale = scale, .opens = weight_sum, .ends = (scale - 1) * weight_sum};
    }
  }
  BP_CHECK(false);
  return {};
}

// The parties at one total, sling after sling.
class Course {
 public:
  // At a total of 0.
  Course(RunningMethod method, std::span<const Claimant> claimants)
      : claimants_(claimants),
        weight_sum_(static_cast<std::int64_t>(WeightSum(claimants))),
        window_(WindowOf(method, static_cast<std::int64_t>(claimants.size()), weight_sum_)),
        behind_(claimants.size()) {}

  // Goes to a total without the steps before it: everybody has the whole part of the quota, and
  // those who would fall behind first have the slings that are left.
  void JumpTo(std::int64_t total) {
    std::int64_t behind_sum = 0;
    for (std::size_t i = 0; i < claimants_.size(); ++i) {
      behind_[i] = Weight(i) * total % weight_sum_;
      behind_sum += behind_[i];
    }
    for (std::int64_t left = behind_sum / weight_sum_; left > 0; --left) Serve();
  }

  // One sling more to share.
  void Step() {
    for (std::size_t i = 0; i < claimants_.size(); ++i) behind_[i] += Weight(i);
    Serve();
  }

  // What each party has of `total`, which is where the course is.
  std::vector<std::uint32_t> SlingsAt(std::int64_t total) const {
    std::vector<std::uint32_t> slings;
    slings.reserve(claimants_.size());
    for (std::size_t i = 0; i < claimants_.size(); ++i) {
      slings.push_back(static_cast<std::uint32_t>((Weight(i) * total - behind_[i]) / weight_sum_));
    }
    return slings;
  }

 private:
  std::int64_t Weight(std::size_t i) const {
    return static_cast<std::int64_t>(claimants_[i].weight);
  }

  bool MayHaveOne(std::size_t i) const { return window_.scale * behind_[i] >= window_.opens; }

  // Whether party `a` would fall behind before party `b`: sooner by what it has left until then, at
  // the speed of its weight.
  bool FallsBehindBefore(std::size_t a, std::size_t b) const {
    const std::int64_t left_a = (window_.ends - window_.scale * behind_[a]) * Weight(b);
    const std::int64_t left_b = (window_.ends - window_.scale * behind_[b]) * Weight(a);
    if (left_a != left_b) return left_a < left_b;
    return ComesBefore(claimants_[a], claimants_[b]);
  }

  void Serve() {
    std::size_t first = claimants_.size();
    for (std::size_t i = 0; i < claimants_.size(); ++i) {
      if (!MayHaveOne(i)) continue;
      if (first == claimants_.size() || FallsBehindBefore(i, first)) first = i;
    }
    // What the parties are behind adds up to the slings to serve. If none of n may have one, that
    // is less than n / (2 n - 2) of a sling, and less than half of one for each of two.
    BP_CHECK(first < claimants_.size());
    behind_[first] -= weight_sum_;
  }

  std::span<const Claimant> claimants_;
  std::int64_t weight_sum_ = 0;
  Window window_;
  std::vector<std::int64_t> behind_;  // more than -weight_sum_, less than twice weight_sum_
};

// The numbers of a course are whole numbers of 64 bits.
constexpr std::uint64_t kWeightSumMax = kRunningBounds.claimants * kRunningBounds.weight;
constexpr std::uint64_t kScaleMax = 2 * kRunningBounds.claimants;
static_assert(3 * kScaleMax * kWeightSumMax <= INT64_MAX / kRunningBounds.weight);
static_assert(kRunningBounds.weight <= INT64_MAX / kRunningBounds.slings);

// Slings from one end of the longest window to the other: what the party of the smallest weight
// takes to be a sling more behind.
//
// Where a course is depends on no more than these last steps. Slings are jobs of one step each,
// done by the earliest end of their windows. Take a job that may but need not be done by some
// total, and all jobs that come before it. Every window that has opened this many steps before the
// total ends by the total, so all that was done until then is among those jobs, whichever was done;
// how many of them wait from there on is therefore the same on every course, and so is whether a
// step is left for the job. A jump to that place takes the jobs by the earliest end, so no window
// that could be kept is missed.
std::int64_t StepsThatMatter(std::span<const Claimant> claimants) {
  std::uint64_t least = kRunningBounds.weight;
  for (const Claimant& claimant : claimants) least = std::min(least, claimant.weight);
  return static_cast<std::int64_t>((WeightSum(claimants) + least - 1) / least);
}

std::vector<std::uint32_t> TotalOf(RunningMethod method, std::int64_t total,
                                   std::span<const Claimant> claimants) {
  const std::int64_t steps = std::min(total, StepsThatMatter(claimants));
  Course course(method, claimants);
  course.JumpTo(total - steps);
  for (std::int64_t i = 0; i < steps; ++i) course.Step();
  return course.SlingsAt(total);
}

}  // namespace

absl::StatusOr<std::vector<std::uint32_t>> ShareTotal(RunningMethod method,
                                                      std::uint32_t slings_total,
                                                      std::span<const Claimant> claimants) {
  BP_RETURN_IF_ERROR(CheckClaimants(slings_total, claimants, kRunningBounds));
  return TotalOf(method, slings_total, claimants);
}

absl::StatusOr<std::vector<RunningAward>> ShareNext(RunningMethod method, const NextClutch& clutch,
                                                    std::span<const Claimant> claimants) {
  const std::uint64_t total = std::uint64_t{clutch.slings_before} + clutch.slings;
  BP_RETURN_IF_ERROR(CheckClaimants(total, claimants, kRunningBounds));
  const auto before = TotalOf(method, clutch.slings_before, claimants);
  const auto after = TotalOf(method, static_cast<std::int64_t>(total), claimants);
  const std::uint64_t weight_sum = WeightSum(claimants);

  std::vector<RunningAward> awards;
  awards.reserve(claimants.size());
  for (std::size_t i = 0; i < claimants.size(); ++i) {
    BP_CHECK(before[i] <= after[i]);
    const std::uint64_t scaled = total * claimants[i].weight;
    awards.push_back({.slings = after[i] - before[i],
                      .slings_before = before[i],
                      .slings_of_quota = static_cast<std::uint32_t>(scaled / weight_sum),
                      .remainder = scaled % weight_sum});
  }
  return awards;
}

}  // namespace broodpact::shares
