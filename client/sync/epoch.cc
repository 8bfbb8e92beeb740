#include "client/sync/epoch.h"

#include <algorithm>
#include <cstddef>
#include <limits>

#include "absl/status/status.h"

#include "broodpact/v1/sync_service.pb.h"
#include "client/base/bytes.h"
#include "client/base/hash.h"
#include "client/base/status.h"

namespace broodpact::sync {
namespace {

// The fields of an epoch as they were sent; nothing if one has another length.
std::optional<Epoch> FieldsOf(const v1::EpochStart& message) {
  const std::optional<Hash> log_hash = HashOfBytes(message.common_log_hash());
  const std::optional<Signature> signature = SignatureOfBytes(message.signature());
  const std::optional<PublicKey> server_key = PublicKeyOfBytes(message.server_key());
  if (!log_hash || !signature || !server_key) return std::nullopt;
  Epoch epoch;
  epoch.epoch = message.epoch();
  epoch.common = {.arrivals = message.common_arrivals(), .log_hash = *log_hash};
  epoch.lost_arrivals = message.lost_arrivals();
  epoch.time_ms = message.time_ms();
  epoch.signature = *signature;
  epoch.server_key = *server_key;
  return epoch;
}

}  // namespace

Epoch SignEpoch(const Signer& log_key, const Hash& cooperative, const facts::EpochClaim& claim) {
  Epoch epoch;
  static_cast<facts::EpochClaim&>(epoch) = claim;
  epoch.signature = log_key.Sign(facts::EpochMessage(cooperative, claim));
  epoch.server_key = log_key.public_key();
  return epoch;
}

bool VerifyEpoch(const Epoch& epoch, const Hash& cooperative) {
  return epoch.epoch > facts::kFirstEpoch &&
         VerifySignature(epoch.server_key, facts::EpochMessage(cooperative, epoch),
                         epoch.signature);
}

bool IsVoid(const Epochs& epochs, const facts::HeadClaim& head) {
  return PartingOf(epochs, head).has_value();
}

std::optional<facts::LogPoint> PartingOf(const Epochs& epochs, const facts::HeadClaim& head) {
  std::optional<facts::LogPoint> common;
  for (const Epoch& one : epochs) {
    const bool parts = head.epoch < one.epoch && head.point.arrivals > one.common.arrivals;
    if (parts && (!common || one.common.arrivals < common->arrivals)) common = one.common;
  }
  return common;
}

bool IsToldLost(const Epochs& epochs, const facts::HeadClaim& head) {
  return IsToldLost(epochs, head, head.point);
}

bool IsToldLost(const Epochs& epochs, const facts::HeadClaim& head, const facts::LogPoint& common) {
  return std::ranges::any_of(epochs, [&](const Epoch& one) {
    return head.epoch < one.epoch && one.common.arrivals <= common.arrivals &&
           head.point.arrivals > one.common.arrivals && head.point.arrivals <= one.lost_arrivals;
  });
}

bool MayBeLost(const Epochs& epochs, std::uint64_t arrivals) {
  return std::ranges::any_of(epochs, [&](const Epoch& one) {
    return arrivals > one.common.arrivals && arrivals <= one.lost_arrivals;
  });
}

void Write(const Epochs& epochs, EpochMessages& messages) {
  for (const Epoch& epoch : epochs) {
    v1::EpochStart& message = *messages.Add();
    message.set_epoch(epoch.epoch);
    message.set_common_arrivals(epoch.common.arrivals);
    message.set_common_log_hash(std::string(ViewOf(epoch.common.log_hash)));
    message.set_lost_arrivals(epoch.lost_arrivals);
    message.set_time_ms(epoch.time_ms);
    message.set_signature(std::string(ViewOf(epoch.signature)));
    message.set_server_key(std::string(ViewOf(epoch.server_key)));
  }
}

absl::StatusOr<Epochs> ReadEpochs(const EpochMessages& messages, const Hash& cooperative) {
  Epochs epochs;
  bool good = static_cast<std::size_t>(messages.size()) <= kEpochsMax;
  std::uint32_t last = facts::kFirstEpoch;
  for (int i = 0; good && i < messages.size(); ++i) {
    const std::optional<Epoch> epoch = FieldsOf(messages.Get(i));
    good = epoch && epoch->epoch >= last && VerifyEpoch(*epoch, cooperative);
    if (!good) break;
    last = epoch->epoch;
    epochs.push_back(*epoch);
  }
  if (good) return epochs;
  return Fail(absl::StatusCode::kPermissionDenied, "EPOCH_SIGNATURE_BAD",
              "what the server says of its losses is not signed as it should be; nothing that "
              "follows it was taken");
}

Epochs Joined(const Epochs& first, const Epochs& second) {
  Epochs all = first;
  for (const Epoch& epoch : second) {
    if (std::ranges::find(all, epoch) == all.end()) all.push_back(epoch);
  }
  std::ranges::stable_sort(all, {}, &Epoch::epoch);
  if (all.size() > kEpochsMax) {
    all.erase(all.begin(), all.end() - static_cast<std::ptrdiff_t>(kEpochsMax));
  }
  return all;
}

std::string EncodeEpochs(const Epochs& epochs) {
  std::string bytes;
  ByteWriter writer(bytes);
  for (const Epoch& epoch : epochs) {
    writer.Unsigned(epoch.epoch);
    writer.Unsigned(epoch.common.arrivals);
    writer.Raw(ViewOf(epoch.common.log_hash));
    writer.Unsigned(epoch.lost_arrivals);
    writer.Signed(epoch.time_ms);
    writer.Raw(ViewOf(epoch.signature));
    writer.Raw(ViewOf(epoch.server_key));
  }
  return bytes;
}

std::optional<Epochs> DecodeEpochs(std::string_view bytes) {
  Epochs epochs;
  ByteReader reader(bytes);
  while (reader.ok() && !reader.at_end()) {
    Epoch epoch;
    const std::uint64_t number = reader.Unsigned();
    epoch.common.arrivals = reader.Unsigned();
    const std::optional<Hash> log_hash = HashOfBytes(reader.Raw(epoch.common.log_hash.size()));
    epoch.lost_arrivals = reader.Unsigned();
    epoch.time_ms = reader.Signed();
    const auto signature = SignatureOfBytes(reader.Raw(epoch.signature.size()));
    const auto server_key = PublicKeyOfBytes(reader.Raw(epoch.server_key.size()));
    if (!reader.ok() || !log_hash || !signature || !server_key ||
        number > std::numeric_limits<std::uint32_t>::max()) {
      return std::nullopt;
    }
    epoch.epoch = static_cast<std::uint32_t>(number);
    epoch.common.log_hash = *log_hash;
    epoch.signature = *signature;
    epoch.server_key = *server_key;
    epochs.push_back(epoch);
  }
  return reader.ok() ? std::optional<Epochs>(epochs) : std::nullopt;
}

}  // namespace broodpact::sync
