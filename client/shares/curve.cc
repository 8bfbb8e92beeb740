#include "client/shares/curve.h"

#include <algorithm>

#include <fmt/core.h>

#include "client/base/status.h"
#include "client/shares/split.h"

namespace broodpact::shares {
namespace {

std::vector<std::uint32_t> SizesOf(const SizeRange& range) {
  const std::uint64_t gaps = std::min<std::uint64_t>(range.to - range.from, kCurveSizesMax - 1);
  std::vector<std::uint32_t> sizes;
  for (std::uint64_t i = 0; i <= gaps; ++i) {
    const std::uint64_t step = gaps == 0 ? 0 : i * (range.to - range.from) / gaps;
    sizes.push_back(static_cast<std::uint32_t>(range.from + step));
  }
  return sizes;
}

// Adds a split of one more size. Who is no party appears with the first split that gives him some.
void Add(const Split& split, Curve& curve) {
  for (std::size_t i = 0; i < split.keepers.size(); ++i) {
    const auto found = std::ranges::find(curve.keepers, split.keepers[i]);
    const auto line = static_cast<std::size_t>(found - curve.keepers.begin());
    if (found == curve.keepers.end()) {
      curve.keepers.push_back(split.keepers[i]);
      curve.slings.emplace_back(curve.sizes.size());
    }
    curve.slings[line].resize(curve.sizes.size());
    curve.slings[line].push_back(split.slings[i]);
  }
  curve.sizes.push_back(split.slings_counted);
}

}  // namespace

absl::StatusOr<Curve> CurveOf(const facts::Terms& terms, const SizeRange& range,
                              const Occasion& occasion) {
  if (range.from > range.to) {
    return Fail(absl::StatusCode::kInvalidArgument, "CURVE_RANGE",
                fmt::format("{} to {} are no sizes: the larger comes last", range.from, range.to));
  }
  Curve curve;
  for (const std::uint32_t size : SizesOf(range)) {
    BP_ASSIGN_OR_RETURN(const Split split, SplitOf(terms, size, occasion));
    Add(split, curve);
  }
  for (std::vector<std::uint32_t>& line : curve.slings) line.resize(curve.sizes.size());
  return curve;
}

}  // namespace broodpact::shares
