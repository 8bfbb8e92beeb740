#pragma once

// What the candidates of a search are drawn from, in its tests.

#include <cstdint>
#include <optional>

#include <rapidcheck.h>

#include "client/base/id.h"

namespace broodpact::match {

inline AnimalId Animal(std::uint8_t number) {
  AnimalId animal;
  animal.bytes.back() = number;
  return animal;
}

inline rc::Gen<std::optional<double>> AnyOf(double a, double b) {
  return rc::gen::element<std::optional<double>>(std::nullopt, a, b);
}

}  // namespace broodpact::match
