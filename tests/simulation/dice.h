#pragma once

// Chance that repeats: one seed, one sequence, on every machine.
//
// Method: SplitMix64 (Steele, Lea & Flood, Fast splittable pseudorandom number generators, 2014;
// the constants are from memory).

#include <cstddef>
#include <cstdint>
#include <string>
#include <vector>

#include "client/device/random.h"

namespace broodpact::simulation {

class Dice {
 public:
  explicit Dice(std::uint64_t seed) : state_(seed) {}

  std::uint64_t Next() {
    state_ += 0x9E3779B97F4A7C15U;
    std::uint64_t z = state_;
    z = (z ^ (z >> 30U)) * 0xBF58476D1CE4E5B9U;
    z = (z ^ (z >> 27U)) * 0x94D049BB133111EBU;
    return z ^ (z >> 31U);
  }

  // 0 .. sides - 1; 0 where there are no sides.
  std::uint32_t Roll(std::size_t sides) {
    return sides == 0 ? 0 : static_cast<std::uint32_t>(Next() % sides);
  }
  // Once in so many.
  bool Once(std::size_t in) { return Roll(in) == 0; }

  template <typename Value>
  const Value& AnyOf(const std::vector<Value>& values) {
    return values[Roll(values.size())];
  }

 private:
  std::uint64_t state_;
};

// What a replica draws its ids from.
class DiceRandomness final : public device::Randomness {
 public:
  explicit DiceRandomness(std::uint64_t seed) : dice_(seed) {}

  std::string Bytes(std::size_t size) override {
    std::string bytes(size, '\0');
    for (char& byte : bytes) byte = static_cast<char>(dice_.Next() & 0xFFU);
    return bytes;
  }

 private:
  Dice dice_;
};

}  // namespace broodpact::simulation
