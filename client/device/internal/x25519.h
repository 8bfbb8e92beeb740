#pragma once

// X25519, the Diffie-Hellman function of RFC 7748 (Langley, Hamburg & Turner, 2016), by OpenSSL.

#include <array>
#include <cstdint>
#include <optional>

#include "client/device/secret_bytes.h"

namespace broodpact::device {

using X25519Point = std::array<std::uint8_t, 32>;

// The public key of `scalar`: X25519(scalar, 9).
X25519Point X25519Public(const SecretBytes& scalar);

// X25519(scalar, u): what both ends of an exchange know. Nothing where it is all zeros, as for the
// points of small order that a hostile peer may send (section 6.1).
std::optional<SecretBytes> X25519(const SecretBytes& scalar, const X25519Point& u);

}  // namespace broodpact::device
