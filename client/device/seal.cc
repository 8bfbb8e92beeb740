#include "client/device/seal.h"

#include <algorithm>
#include <map>
#include <optional>
#include <utility>

#include "absl/cleanup/cleanup.h"
#include <fmt/format.h>
#include <openssl/crypto.h>

#include "client/base/bytes.h"
#include "client/base/check.h"
#include "client/base/status.h"
#include "client/base/text.h"
#include "client/device/internal/aes_gcm.h"
#include "client/device/internal/derive.h"
#include "client/device/internal/envelope.h"
#include "client/device/internal/x25519.h"
#include "client/device/secret_bytes.h"

namespace broodpact::device {
namespace {

using namespace std::string_view_literals;

// What a derived key is for.
constexpr std::string_view kWrapUse = "broodpact seal v1 wrap\0"sv;
constexpr std::string_view kTextUse = "broodpact seal v1 text\0"sv;
constexpr std::string_view kMacUse = "broodpact seal v1 mac\0"sv;

// Every key of this file encrypts once: its nonce has nothing to tell apart.
constexpr GcmNonce kOnlyNonce{};

absl::Status Broken() {
  return Fail(absl::StatusCode::kInvalidArgument, "SEAL_BROKEN",
              "the sealed text was changed, or belongs to another place; ask its author to seal it "
              "again");
}

// A use of a key at a place, as bytes; no two of them are the same.
std::string At(std::string_view use, const SealedPlace& place) {
  std::string bytes(use);
  ByteWriter writer(bytes);
  writer.Raw(ViewOf(place.cooperative));
  writer.Raw(ViewOf(place.subject));
  writer.Text(place.field);
  return bytes;
}

// The key that a content key is wrapped with, from what both ends of the exchange know.
SecretBytes WrappingKey(const SecretBytes& shared, const X25519Point& ephemeral,
                        const SealingPublicKey& recipient, const SealedPlace& place) {
  const std::string both = std::string(ViewOf(ephemeral)).append(ViewOf(recipient.bytes));
  return DeriveKey(shared, both, At(kWrapUse, place));
}

absl::StatusOr<Wrap> WrapFor(const SealingPublicKey& recipient, const SecretBytes& content,
                             const SealedPlace& place, Randomness& randomness) {
  const SecretBytes scalar = SecretBytes::Fresh(randomness);
  const auto shared = X25519(scalar, recipient.bytes);
  if (!shared) {
    return Fail(absl::StatusCode::kInvalidArgument, "RECIPIENT_KEY",
                fmt::format("the sealing key {} is no proper key; ask its keeper for another",
                            ToShortText(IdOf(recipient))));
  }
  Wrap wrap{.recipient = IdOf(recipient), .ephemeral = X25519Public(scalar)};
  const SecretBytes key = WrappingKey(*shared, wrap.ephemeral, recipient, place);
  const std::string wrapped = EncryptGcm(key, kOnlyNonce, At(kWrapUse, place), content.view());
  BP_CHECK(wrapped.size() == wrap.content.size());
  std::copy(wrapped.begin(), wrapped.end(), wrap.content.begin());
  return wrap;
}

// Adds a wrap for each recipient that has none yet.
absl::Status AddWraps(Envelope& envelope, std::span<const SealingPublicKey> recipients,
                      const SecretBytes& content, const SealedPlace& place,
                      Randomness& randomness) {
  if (recipients.empty()) {
    return Fail(absl::StatusCode::kInvalidArgument, "NO_RECIPIENTS",
                "nobody could read the sealed text; name who may");
  }
  std::map<SealingKeyId, SealingPublicKey> missing;
  for (const SealingPublicKey& each : recipients) missing.emplace(IdOf(each), each);
  for (const Wrap& wrap : envelope.wraps) missing.erase(wrap.recipient);
  if (envelope.wraps.size() + missing.size() > kSealRecipientsMax) {
    return Fail(absl::StatusCode::kResourceExhausted, "TOO_MANY_RECIPIENTS",
                fmt::format("a text is sealed to {} devices at most, and these would be {}; seal "
                            "it to fewer",
                            kSealRecipientsMax, envelope.wraps.size() + missing.size()));
  }
  for (const auto& [id, recipient] : missing) {
    BP_ASSIGN_OR_RETURN(const Wrap wrap, WrapFor(recipient, content, place, randomness));
    envelope.wraps.push_back(wrap);
  }
  std::ranges::sort(envelope.wraps, {}, &Wrap::recipient);
  return absl::OkStatus();
}

Hash MacOf(const Envelope& envelope, const SecretBytes& content, const SealedPlace& place) {
  return Hmac(DeriveKey(content, "", At(kMacUse, place)).view(), EncodeBody(envelope));
}

// The content key out of the own wrap, once all of the envelope is vouched for by it.
absl::StatusOr<SecretBytes> Unlock(const Envelope& envelope, const SealedPlace& place,
                                   const SealingKey& own) {
  const auto wrap = std::ranges::find(envelope.wraps, own.id(), &Wrap::recipient);
  if (wrap == envelope.wraps.end()) {
    return Fail(absl::StatusCode::kPermissionDenied, "NOT_RECIPIENT",
                "the text is not sealed to this device; ask someone who can read it to seal it "
                "further");
  }
  const auto shared = own.Exchange({.bytes = wrap->ephemeral});
  if (!shared) return Broken();
  const SecretBytes key = WrappingKey(*shared, wrap->ephemeral, own.public_key(), place);
  const std::string_view wrapped(reinterpret_cast<const char*>(wrap->content.data()),
                                 wrap->content.size());
  auto bytes = DecryptGcm(key, kOnlyNonce, At(kWrapUse, place), wrapped);
  if (!bytes) return Broken();
  const absl::Cleanup wipe = [&bytes] { OPENSSL_cleanse(bytes->data(), bytes->size()); };
  const auto content = SecretBytes::OfBytes(*bytes);
  if (!content || !IsSameMac(MacOf(envelope, *content, place), envelope.mac)) return Broken();
  return *content;
}

}  // namespace

absl::StatusOr<std::string> Seal(std::string_view text, const SealedPlace& place,
                                 std::span<const SealingPublicKey> recipients,
                                 Randomness& randomness) {
  BP_RETURN_IF_ERROR(CheckText("the text to seal", text, kSealedTextBytesMax));
  const SecretBytes content = SecretBytes::Fresh(randomness);
  Envelope envelope;
  BP_RETURN_IF_ERROR(AddWraps(envelope, recipients, content, place, randomness));
  std::string padded = Pad(text);
  const absl::Cleanup wipe = [&padded] { OPENSSL_cleanse(padded.data(), padded.size()); };
  const std::string use = At(kTextUse, place);
  envelope.text = EncryptGcm(DeriveKey(content, "", use), kOnlyNonce, use, padded);
  envelope.mac = MacOf(envelope, content, place);
  return EncodeEnvelope(envelope);
}

absl::StatusOr<std::string> OpenSealed(std::string_view sealed, const SealedPlace& place,
                                       const SealingKey& own) {
  BP_ASSIGN_OR_RETURN(const Envelope envelope, ParseEnvelope(sealed));
  BP_ASSIGN_OR_RETURN(const SecretBytes content, Unlock(envelope, place, own));
  const std::string use = At(kTextUse, place);
  auto padded = DecryptGcm(DeriveKey(content, "", use), kOnlyNonce, use, envelope.text);
  if (!padded) return Broken();
  const absl::Cleanup wipe = [&padded] { OPENSSL_cleanse(padded->data(), padded->size()); };
  const auto text = Unpad(*padded);
  if (!text) return Broken();
  if (!CheckText("the sealed text", *text, kSealedTextBytesMax).ok()) {
    return Fail(absl::StatusCode::kInvalidArgument, "TEXT_MALFORMED",
                "the sealed text has characters that cannot be shown; ask its author to enter it "
                "again");
  }
  return std::string(*text);
}

absl::StatusOr<std::string> SealFurther(std::string_view sealed, const SealedPlace& place,
                                        const SealingKey& own,
                                        std::span<const SealingPublicKey> further,
                                        Randomness& randomness) {
  BP_ASSIGN_OR_RETURN(Envelope envelope, ParseEnvelope(sealed));
  BP_ASSIGN_OR_RETURN(const SecretBytes content, Unlock(envelope, place, own));
  BP_RETURN_IF_ERROR(AddWraps(envelope, further, content, place, randomness));
  envelope.mac = MacOf(envelope, content, place);
  return EncodeEnvelope(envelope);
}

absl::StatusOr<std::vector<SealingKeyId>> RecipientsOf(std::string_view sealed) {
  BP_ASSIGN_OR_RETURN(const Envelope envelope, ParseEnvelope(sealed));
  std::vector<SealingKeyId> recipients;
  recipients.reserve(envelope.wraps.size());
  for (const Wrap& wrap : envelope.wraps) recipients.push_back(wrap.recipient);
  return recipients;
}

}  // namespace broodpact::device
