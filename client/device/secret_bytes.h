#pragma once

// Bytes of a secret, wiped from memory when they are let go.

#include <array>
#include <cstdint>
#include <optional>
#include <string_view>

#include "client/device/random.h"

namespace broodpact::device {

// 32 bytes of a key. Every copy is wiped at the end of its life; two are compared in a time that
// does not depend on where they differ.
class SecretBytes {
 public:
  SecretBytes() = default;
  SecretBytes(const SecretBytes&) = default;
  SecretBytes& operator=(const SecretBytes&) = default;
  ~SecretBytes();

  // Takes 32 bytes as they are. Nothing if `bytes` has another length.
  static std::optional<SecretBytes> OfBytes(std::string_view bytes);

  // Fresh bytes of `randomness`, which keeps none of them.
  static SecretBytes Fresh(Randomness& randomness);

  // A view that lives as long as this.
  std::string_view view() const;

  std::array<std::uint8_t, 32>& bytes() { return bytes_; }
  const std::array<std::uint8_t, 32>& bytes() const { return bytes_; }

  friend bool operator==(const SecretBytes& a, const SecretBytes& b);

 private:
  std::array<std::uint8_t, 32> bytes_{};
};

}  // namespace broodpact::device
