#include "client/device/internal/envelope.h"

#include <algorithm>
#include <bit>

#include <fmt/format.h>

#include "client/base/bytes.h"
#include "client/base/check.h"
#include "client/base/status.h"
#include "client/device/internal/aes_gcm.h"
#include "client/device/seal.h"

namespace broodpact::device {
namespace {

constexpr std::size_t kPaddedBytesMin = 128;
constexpr std::size_t kPaddedBytesMax = 1'024;
constexpr std::size_t kWrapBytes = 16 + 32 + 48;

absl::Status FormFault(std::string_view fault) {
  return Fail(absl::StatusCode::kInvalidArgument, "SEAL_FORM",
              fmt::format("the sealed text {}; ask its author to seal it again", fault));
}

template <typename Array>
std::string_view BytesOf(const Array& array) {
  return {reinterpret_cast<const char*>(array.data()), array.size()};
}

// Reads as many bytes as `array` has; leaves it alone where there are fewer.
template <typename Array>
void ReadInto(ByteReader& reader, Array& array) {
  const std::string_view raw = reader.Raw(array.size());
  std::copy(raw.begin(), raw.end(), array.begin());
}

bool IsPaddedSize(std::size_t size) {
  return size >= kPaddedBytesMin && size <= kPaddedBytesMax && std::has_single_bit(size);
}

absl::StatusOr<std::vector<Wrap>> ReadWraps(ByteReader& reader) {
  const std::size_t count = reader.Count(kWrapBytes);
  if (!reader.ok()) return FormFault("is cut short");
  if (count == 0 || count > kSealRecipientsMax) return FormFault("is for nobody or for too many");
  std::vector<Wrap> wraps(count);
  for (Wrap& wrap : wraps) {
    wrap.recipient = reader.Name<SealingKeyId>();
    ReadInto(reader, wrap.ephemeral);
    ReadInto(reader, wrap.content);
  }
  const auto not_ascending = [](const Wrap& a, const Wrap& b) {
    return a.recipient >= b.recipient;
  };
  if (std::ranges::adjacent_find(wraps, not_ascending) != wraps.end()) {
    return FormFault("names its readers out of order");
  }
  return wraps;
}

}  // namespace

std::string EncodeBody(const Envelope& envelope) {
  std::string bytes;
  ByteWriter writer(bytes);
  writer.Unsigned(kSealVersion);
  writer.Unsigned(envelope.wraps.size());
  for (const Wrap& wrap : envelope.wraps) {
    writer.Name(wrap.recipient);
    writer.Raw(BytesOf(wrap.ephemeral));
    writer.Raw(BytesOf(wrap.content));
  }
  writer.Text(envelope.text);
  return bytes;
}

std::string EncodeEnvelope(const Envelope& envelope) {
  return EncodeBody(envelope).append(ViewOf(envelope.mac));
}

absl::StatusOr<Envelope> ParseEnvelope(std::string_view bytes) {
  if (bytes.size() > kSealedBytesMax) return FormFault("is too long");
  ByteReader reader(bytes);
  const std::uint64_t version = reader.Unsigned();
  if (!reader.ok() || version == 0) return FormFault("does not begin with its version");
  if (version > kSealVersion) {
    return Fail(absl::StatusCode::kFailedPrecondition, "SEAL_NEWER",
                "the text was sealed by a later version; upgrade to read it");
  }
  Envelope envelope;
  BP_ASSIGN_OR_RETURN(envelope.wraps, ReadWraps(reader));
  envelope.text = std::string(reader.Text());
  ReadInto(reader, envelope.mac);
  if (!reader.ok()) return FormFault("is cut short");
  if (!reader.at_end()) return FormFault("has bytes behind its end");
  if (envelope.text.size() < kGcmTagBytes || !IsPaddedSize(envelope.text.size() - kGcmTagBytes)) {
    return FormFault("has a length that none is padded to");
  }
  return envelope;
}

std::string Pad(std::string_view text) {
  BP_CHECK(text.size() <= kSealedTextBytesMax);
  std::string padded;
  padded.reserve(kPaddedBytesMax);  // no second buffer is left behind with the text in it
  ByteWriter(padded).Text(text);
  padded.resize(std::bit_ceil(std::max(padded.size(), kPaddedBytesMin)), '\0');
  return padded;
}

std::optional<std::string_view> Unpad(std::string_view padded) {
  ByteReader reader(padded);
  const std::string_view text = reader.Text();
  if (!reader.ok() || text.size() > kSealedTextBytesMax) return std::nullopt;
  if (reader.rest().find_first_not_of('\0') != std::string_view::npos) return std::nullopt;
  const std::size_t size = padded.size() - reader.rest().size();
  if (padded.size() != std::bit_ceil(std::max(size, kPaddedBytesMin))) return std::nullopt;
  return text;
}

}  // namespace broodpact::device
