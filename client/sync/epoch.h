#pragma once

// The epochs of a server's log: each after the first began with a loss, and says up to where heads
// of the epochs before it still hold.

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/statusor.h"

#include "client/base/signature.h"
#include "client/facts/epoch.h"

namespace google::protobuf {
template <typename Element>
class RepeatedPtrField;
}  // namespace google::protobuf

namespace broodpact::v1 {
class EpochStart;
}  // namespace broodpact::v1

namespace broodpact::sync {

// So many are told and kept, the newest: who lost more than that has other troubles.
inline constexpr std::size_t kEpochsMax = 256;

struct Epoch : facts::EpochClaim {
  Signature signature{};
  PublicKey server_key{};

  friend bool operator==(const Epoch&, const Epoch&) = default;
};

// In order of their numbers. A server that has forgotten one may give its number to another, until
// it is reminded.
using Epochs = std::vector<Epoch>;

Epoch SignEpoch(const Signer& log_key, const Hash& cooperative, const facts::EpochClaim& claim);

// Whether the server whose key the epoch names has signed it.
bool VerifyEpoch(const Epoch& epoch, const Hash& cooperative);

// Whether the server has said that this head no longer holds: it is of an earlier epoch, and of
// more arrivals than that one has in common with the log of today.
bool IsVoid(const Epochs& epochs, const facts::HeadClaim& head);

// Where the log of such a head and the log of today part, as the server says: the place that they
// have in common. Nothing where it does not say so.
std::optional<facts::LogPoint> PartingOf(const Epochs& epochs, const facts::HeadClaim& head);

// Whether the server has said that it lost all that this head was of: it is void, and no further
// than the loss that an epoch tells of.
bool IsToldLost(const Epochs& epochs, const facts::HeadClaim& head);

// The same, with a log of today that parts from it no later than at `common`: who knows of an
// earlier place has more to tell.
bool IsToldLost(const Epochs& epochs, const facts::HeadClaim& head, const facts::LogPoint& common);

// Whether a commit whose author has seen `arrivals` of another log may have seen one that the
// server has lost, and says so.
bool MayBeLost(const Epochs& epochs, std::uint64_t arrivals);

using EpochMessages = google::protobuf::RepeatedPtrField<v1::EpochStart>;
void Write(const Epochs& epochs, EpochMessages& messages);

// Reads what a server tells, and verifies it.
// Errors: PERMISSION_DENIED with reason EPOCH_SIGNATURE_BAD (also for a field of wrong length, and
// for epochs out of order or too many).
absl::StatusOr<Epochs> ReadEpochs(const EpochMessages& messages, const Hash& cooperative);

// All of both, each once; the newest kEpochsMax.
Epochs Joined(const Epochs& first, const Epochs& second);

// As a small value of the store: one after the other, in the encoding of base/bytes.h: epoch and
// arrivals unsigned, log hash (32 bytes), lost arrivals unsigned, time signed, signature (64), key
// (32). Nothing for other bytes.
std::string EncodeEpochs(const Epochs& epochs);
std::optional<Epochs> DecodeEpochs(std::string_view bytes);

}  // namespace broodpact::sync
