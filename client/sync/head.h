#pragma once

// A head of the arrival log as a server signed it, its form on the wire, and its bytes in files.

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "absl/status/statusor.h"

#include "client/base/signature.h"
#include "client/facts/arrival.h"

namespace broodpact::v1 {
class SignedHead;
}  // namespace broodpact::v1

namespace broodpact::sync {

struct Head : facts::HeadClaim {
  Signature signature{};
  PublicKey server_key{};

  friend bool operator==(const Head&, const Head&) = default;
};

// Signs what a server claims of `cooperative`'s log.
Head SignHead(const Signer& log_key, const Hash& cooperative, const facts::HeadClaim& claim);

// Whether the head was signed by the key that it names, for that cooperative.
bool VerifyHead(const Head& head, const Hash& cooperative);

void Write(const Head& head, v1::SignedHead& message);

// Reads a head and verifies its signature.
// Errors: PERMISSION_DENIED with reason HEAD_SIGNATURE_BAD (also for a field of wrong length).
absl::StatusOr<Head> ReadHead(const v1::SignedHead& message, const Hash& cooperative);

// As a replica keeps it and a bundle carries it. Grammar, in the encoding of base/bytes.h: epoch
// and arrivals unsigned, log hash (32 bytes), root of the tree (32), time signed, signature (64),
// server key (32).
std::string EncodeHead(const Head& head);

// Nothing if the bytes are no head. Its signature has not been checked.
std::optional<Head> DecodeHead(std::string_view bytes);

}  // namespace broodpact::sync
