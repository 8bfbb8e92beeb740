#include "client/store/internal/keys.h"

#include <algorithm>

#include "client/base/bytes.h"
#include "client/base/check.h"

namespace broodpact::store {
namespace {

constexpr std::size_t kNumberSize = 8;
constexpr std::size_t kHashSize = 32;
constexpr std::size_t kIdSize = 16;

template <typename Number>
void AppendBig(Number number, char* to) {
  for (std::size_t i = sizeof(Number); i-- > 0;) {
    to[i] = static_cast<char>(static_cast<unsigned char>(number & 0xFFU));
    number = static_cast<Number>(number >> 8U);
  }
}

std::uint64_t ReadBig(std::string_view bytes) {
  std::uint64_t number = 0;
  for (const char byte : bytes) number = (number << 8U) | static_cast<unsigned char>(byte);
  return number;
}

std::string NumberAndHash(std::uint64_t number, const Hash& hash) {
  std::string bytes = Big64Text(number);
  bytes.append(ViewOf(hash));
  return bytes;
}

}  // namespace

Key& Key::Letter(char letter) {
  return Raw({&letter, 1});
}

Key& Key::Big32(std::uint32_t number) {
  std::array<char, sizeof(number)> bytes{};
  AppendBig(number, bytes.data());
  return Raw({bytes.data(), bytes.size()});
}

Key& Key::Big64(std::uint64_t number) {
  std::array<char, sizeof(number)> bytes{};
  AppendBig(number, bytes.data());
  return Raw({bytes.data(), bytes.size()});
}

Key& Key::Raw(std::string_view bytes) {
  BP_CHECK(bytes.size() <= bytes_.size() - size_);
  std::copy(bytes.begin(), bytes.end(), bytes_.begin() + static_cast<std::ptrdiff_t>(size_));
  size_ += bytes.size();
  return *this;
}

Key BlockKey(std::uint64_t arrivals_before) {
  return Key().Big64(arrivals_before);
}

Key HeadKey(const facts::ChainId& chain) {
  return Key().Letter('h').Raw(ViewOf(chain.device.bytes)).Big32(chain.incarnation);
}

bool IsStoresOwn(std::string_view name) {
  return name == kFormatName || name == kPointName || name == kFoldedName ||
         name == kFoldVersionName || name == kTreeName || name == kBaseName ||
         name == kBeginningName;
}

Key HeadPrefix() {
  return Key().Letter('h');
}

Key HeadPrefix(const DeviceId& device) {
  return HeadPrefix().Raw(ViewOf(device.bytes));
}

std::optional<facts::ChainId> ParseHeadKey(std::string_view key) {
  constexpr std::size_t kIncarnationSize = 4;
  if (key.size() != 1 + kIdSize + kIncarnationSize || key.front() != 'h') return std::nullopt;
  const std::optional<IdBytes> device = IdOfBytes(key.substr(1, kIdSize));
  if (!device) return std::nullopt;
  facts::ChainId chain;
  chain.device.bytes = *device;
  chain.incarnation = static_cast<std::uint32_t>(ReadBig(key.substr(1 + kIdSize)));
  return chain;
}

Key SegmentPrefix(const facts::ChainId& chain) {
  return Key().Letter('s').Raw(ViewOf(chain.device.bytes)).Big32(chain.incarnation);
}

Key SegmentKey(const facts::ChainId& chain, std::uint64_t first_seq) {
  return SegmentPrefix(chain).Big64(first_seq);
}

Key TreeKey(const MerklePlace& place) {
  return Key().Letter('t').Letter(static_cast<char>(place.level)).Big64(place.index);
}

Key LogHashKey(std::uint64_t arrivals) {
  return Key().Letter('g').Big64(arrivals);
}

Key PendingKey(const facts::ChainId& chain, std::uint64_t seq) {
  return Key().Raw(ViewOf(chain.device.bytes)).Big32(chain.incarnation).Big64(seq);
}

Key StateKey(const registry::SubjectKey& key) {
  return Key().Letter(static_cast<char>(key.kind)).Raw(ViewOf(key.id));
}

std::string Big64Text(std::uint64_t number) {
  std::string bytes(kNumberSize, '\0');
  AppendBig(number, bytes.data());
  return bytes;
}

std::optional<std::uint64_t> ParseBig64(std::string_view bytes) {
  if (bytes.size() != kNumberSize) return std::nullopt;
  return ReadBig(bytes);
}

std::uint64_t NumberAtEnd(std::string_view key) {
  if (key.size() < kNumberSize) return 0;
  return ReadBig(key.substr(key.size() - kNumberSize));
}

std::string EncodePoint(const facts::LogPoint& point) {
  return NumberAndHash(point.arrivals, point.log_hash);
}

std::optional<facts::LogPoint> DecodePoint(std::string_view bytes) {
  if (bytes.size() != kNumberSize + kHashSize) return std::nullopt;
  const std::optional<Hash> hash = HashOfBytes(bytes.substr(kNumberSize));
  if (!hash) return std::nullopt;
  return facts::LogPoint{.arrivals = ReadBig(bytes.substr(0, kNumberSize)), .log_hash = *hash};
}

std::string EncodeHead(const facts::ChainHead& head) {
  return NumberAndHash(head.seq, head.hash);
}

std::optional<facts::ChainHead> DecodeHead(std::string_view bytes) {
  if (bytes.size() != kNumberSize + kHashSize) return std::nullopt;
  const std::optional<Hash> hash = HashOfBytes(bytes.substr(kNumberSize));
  if (!hash) return std::nullopt;
  return facts::ChainHead{.seq = ReadBig(bytes.substr(0, kNumberSize)), .hash = *hash};
}

Segment::Segment(std::uint64_t first_seq, std::uint64_t arrival)
    : first_seq_(first_seq), count_(1), last_arrival_(arrival) {
  ByteWriter(value_).Unsigned(arrival);
}

void Segment::Add(std::uint64_t arrival) {
  ByteWriter(value_).Unsigned(arrival - last_arrival_);
  last_arrival_ = arrival;
  ++count_;
}

std::optional<std::uint64_t> ArrivalInSegment(std::string_view value, std::uint64_t place,
                                              bool& damaged) {
  ByteReader reader(value);
  std::uint64_t arrival = reader.Unsigned();
  for (std::uint64_t i = 0; i < place && reader.ok() && !reader.at_end(); ++i) {
    arrival += reader.Unsigned();
    if (i + 1 == place && reader.ok()) return arrival;
  }
  damaged = !reader.ok();
  if (damaged || place > 0) return std::nullopt;
  return arrival;
}

std::optional<PendingPlace> ParsePendingKey(std::string_view key) {
  constexpr std::size_t kIncarnationSize = 4;
  if (key.size() != kIdSize + kIncarnationSize + kNumberSize) return std::nullopt;
  const std::optional<IdBytes> device = IdOfBytes(key.substr(0, kIdSize));
  if (!device) return std::nullopt;
  PendingPlace place;
  place.chain.device.bytes = *device;
  place.chain.incarnation =
      static_cast<std::uint32_t>(ReadBig(key.substr(kIdSize, kIncarnationSize)));
  place.seq = NumberAtEnd(key);
  return place;
}

std::string AfterPrefix(std::string_view prefix) {
  std::string after(prefix);
  while (!after.empty() && static_cast<unsigned char>(after.back()) == 0xFFU) after.pop_back();
  if (!after.empty()) {
    after.back() = static_cast<char>(static_cast<unsigned char>(after.back()) + 1);
  }
  return after;
}

}  // namespace broodpact::store
