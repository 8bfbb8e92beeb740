#pragma once

// How many of the males that are mature now will live on, month by month.
//
// Each lives on by what is known of males of his group, else of its genus, else by the prior of the
// trade's table, given that he has come to his age. How many do is the sum of chances that have
// nothing to do with each other, so its distribution is computed exactly, male by male: what a
// simulation would come to after endless courses, without its noise.

#include <array>
#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include "client/survival/outlook.h"

namespace broodpact::replica {

struct Expected {
  double males = 0;
  std::uint32_t lower = 0;  // 8 of 10 courses lie between the two
  std::uint32_t upper = 0;
  double none = 0;  // chance that nobody is alive
};

// `chances` are those of each to be alive, 0 .. 1.
Expected ExpectedAlive(std::span<const double> chances);

// The males of one group along the months ahead.
class MalesAhead {
 public:
  // `ages` are days since maturity of those alive.
  MalesAhead(survival::Evidence evidence, std::span<const double> ages);

  // Each one's chance to be alive `days` from now, in the order of `ages`. To be asked with days
  // that do not grow less: nobody's chance rises. The group's curve answers as far as anyone was
  // watched, then that of the genus, then the prior; where none of them says anything he counts as
  // not living on.
  const std::vector<double>& ChancesIn(double days);

  // What the chances told so far rest on: "group: 12 lives, 7 ended; beyond that prior, from
  // memory".
  std::string Basis() const;

 private:
  double ChanceOf(double age, double days);

  survival::Evidence evidence_;
  std::vector<double> ages_;
  std::vector<double> chances_;
  std::array<bool, 3> used_{};  // by survival::Level
};

}  // namespace broodpact::replica
