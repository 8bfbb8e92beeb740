#pragma once

// Exact fractions that compare without a product: part by part, as Euclid divides. Slow, and
// nothing that the room under test does.

#include <compare>
#include <cstdint>

namespace broodpact::shares {

struct Fraction {
  __extension__ unsigned __int128 over = 0;
  __extension__ unsigned __int128 under = 1;  // 0: larger than every number

  friend std::strong_ordering operator<=>(Fraction a, Fraction b) {
    while (a.under != 0 && b.under != 0) {
      const auto whole_a = a.over / a.under;
      const auto whole_b = b.over / b.under;
      if (whole_a != whole_b) return whole_a < whole_b ? Less() : Greater();
      // The larger rest is the smaller one turned over.
      const Fraction rest_a = {.over = a.under, .under = a.over % a.under};
      a = {.over = b.under, .under = b.over % b.under};
      b = rest_a;
    }
    if (a.under == b.under) return std::strong_ordering::equal;
    return a.under == 0 ? Greater() : Less();
  }
  friend bool operator==(Fraction a, Fraction b) {
    return (a <=> b) == std::strong_ordering::equal;
  }

 private:
  static std::strong_ordering Less() { return std::strong_ordering::less; }
  static std::strong_ordering Greater() { return std::strong_ordering::greater; }
};

}  // namespace broodpact::shares
