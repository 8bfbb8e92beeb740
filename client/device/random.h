#pragma once

// Randomness of this machine, as a parameter.

#include <cstddef>
#include <string>

#include "client/base/check.h"
#include "client/base/id.h"

namespace broodpact::device {

class Randomness {
 public:
  virtual ~Randomness() = default;
  virtual std::string Bytes(std::size_t size) = 0;
};

// The system's randomness, by OpenSSL. Thread-safe.
Randomness& SystemRandomness();

// A fresh id of some kind.
template <typename AnyId>
AnyId FreshId(Randomness& randomness) {
  AnyId id;
  const std::string bytes = randomness.Bytes(id.bytes.size());
  BP_CHECK(bytes.size() == id.bytes.size());
  for (std::size_t i = 0; i < bytes.size(); ++i) id.bytes[i] = static_cast<std::uint8_t>(bytes[i]);
  return id;
}

}  // namespace broodpact::device
