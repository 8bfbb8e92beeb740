#pragma once

// What each party gets of clutches of many sizes: to see what one signs.
//
// Pure, and whole-number arithmetic throughout.

#include <cstdint>
#include <vector>

#include "absl/status/statusor.h"

#include "client/base/id.h"
#include "client/facts/terms.h"
#include "client/shares/occasion.h"

namespace broodpact::shares {

// Sizes that one curve has at most: more than a terminal has columns, and enough for a page.
inline constexpr std::uint32_t kCurveSizesMax = 401;

// Sizes from one to another, both among them.
struct SizeRange {
  std::uint32_t from = 0;
  std::uint32_t to = 0;
};

struct Curve {
  std::vector<std::uint32_t> sizes{};                // rising
  std::vector<KeeperId> keepers{};                   // as a split has them
  std::vector<std::vector<std::uint32_t>> slings{};  // one list a keeper, one number a size
};

// Every size of the range, or where there are more than kCurveSizesMax as many at equal distances,
// the ends among them.
//
// Errors: INVALID_ARGUMENT with reason CURVE_RANGE (it ends before it begins), and those of
// SplitOf.
absl::StatusOr<Curve> CurveOf(const facts::Terms& terms, const SizeRange& range,
                              const Occasion& occasion = {});

}  // namespace broodpact::shares
