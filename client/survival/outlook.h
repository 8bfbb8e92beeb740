#pragma once

// How long this male has still, and on what evidence: that of his group, else of his genus, else
// the prior of the trade's table, named as such.
//
// A level is used where it says something about an age: five lives at least, a death among them,
// and a curve that comes down to the half. Else the next one is asked, and at last nothing is said.
//
// Pure. Floating point: nothing that replicas must agree on may depend on it.

#include <cstdint>
#include <optional>
#include <string>

#include "client/survival/expectations.h"
#include "client/survival/kaplan_meier.h"
#include "client/survival/time_left.h"

namespace broodpact::survival {

// With fewer lives, or no death among them, a curve says nothing.
inline constexpr std::uint32_t kLivesMin = 5;
inline constexpr std::uint32_t kDeathsMin = 1;
bool Suffices(const Curve& curve);

enum class Level : std::uint8_t { kGroup, kGenus, kPrior };

// What is known of lives of one kind.
struct Evidence {
  Curve group{};
  Curve genus{};  // the group's lives are among them
  std::optional<Prior> prior{};
};

struct Outlook {
  Level level = Level::kPrior;
  Estimate left{};  // days; of a prior: the middle and the ends of what is left of its range
  std::uint32_t lives = 0;   // behind it; 0 for a prior
  std::uint32_t deaths = 0;  // among them
};

// The time left for one that is alive at `age`, in days. Nothing where no level says anything.
std::optional<Outlook> OutlookAt(const Evidence& evidence, double age);

// The chance that one alive at `age` is alive `days` later, by the level that OutlookAt uses;
// within a prior's range every day is as likely as the other to be the last. `days` is not below 0.
std::optional<double> ChanceOfLasting(const Evidence& evidence, double age, double days);

// "12 lives, 7 ended", "genus: 30 lives, 11 ended", "prior, from memory": how it is shown.
std::string BasisOf(const Evidence& evidence, const Outlook& outlook);

}  // namespace broodpact::survival
