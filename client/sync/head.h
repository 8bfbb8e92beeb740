#pragma once

// A head of the arrival log as a server signed it, and its form on the wire.

#include <cstdint>

#include "absl/status/statusor.h"

#include "client/base/signature.h"
#include "client/facts/arrival.h"

namespace broodpact::v1 {
class SignedHead;
}  // namespace broodpact::v1

namespace broodpact::sync {

struct Head {
  std::uint32_t epoch = 0;
  facts::LogPoint point{};
  std::int64_t time_ms = 0;
  Signature signature{};
  PublicKey server_key{};
};

// Signs the head of `cooperative`'s log at `point`.
Head SignHead(const Signer& log_key, const Hash& cooperative, std::uint32_t epoch,
              const facts::LogPoint& point, std::int64_t time_ms);

void Write(const Head& head, v1::SignedHead& message);

// Reads a head and verifies its signature.
// Errors: PERMISSION_DENIED with reason HEAD_SIGNATURE_BAD (also for a field of wrong length).
absl::StatusOr<Head> ReadHead(const v1::SignedHead& message, const Hash& cooperative);

}  // namespace broodpact::sync
