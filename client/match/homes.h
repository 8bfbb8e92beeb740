#pragma once

// Whose slings go where: ranks keepers who seek slings by criteria that are all shown.
//
// Pure: the caller gathers the facts about each want.

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "client/base/id.h"
#include "client/match/candidates.h"

namespace broodpact::match {

// One want of slings.
struct HomeCandidate {
  WantId want{};
  Nearness nearness = Nearness::kNotSaid;
  std::optional<std::uint32_t> distance_km{};  // coarse; nothing: not known
  std::optional<std::uint64_t> arrival{};      // its place in the log; nothing: not there yet
  std::optional<std::uint32_t> slings{};       // how many; nothing: not said

  friend bool operator==(const HomeCandidate&, const HomeCandidate&) = default;
};

// What leaves a want out; at a bound, and without data, it stays.
struct HomeBounds {
  std::optional<std::uint32_t> distance_km_max{};
  std::optional<std::uint32_t> slings_min{};
  Borders borders = Borders::kCrossed;
};

// What homes are ordered by, in this order.
enum class HomeCriterion : std::uint8_t {
  kDistance,  // nearer first: same region, abroad by kilometres, not said
  kEntry,     // the earlier entered first
  kSlings,    // who takes more first
};
inline constexpr std::size_t kHomeCriteria = 3;

// As RankMales.
std::vector<HomeCandidate> RankHomes(std::vector<HomeCandidate> candidates,
                                     const HomeBounds& bounds,
                                     std::span<const HomeCriterion> ignored = {});

// As for males.
std::optional<HomeCriterion> DecisiveOf(const HomeCandidate& first, const HomeCandidate& second,
                                        std::span<const HomeCriterion> ignored);
std::string OrderOf(std::span<const HomeCriterion> ignored);
std::string_view ToText(HomeCriterion criterion);

// The rule of RankHomes as one sentence, nothing ignored.
inline constexpr char kHomeOrder[] = "nearer, earlier entered, takes more";

}  // namespace broodpact::match
