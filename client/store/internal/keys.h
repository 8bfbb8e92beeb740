#pragma once

// The keys of the database, and the small values: how they are written and read back.
//
// From FORMAT.md, where every number is big-endian (so that keys sort as numbers do) unless it is
// called a varint (base/bytes.h):
//
//   log       before(8)                            -> log block
//   verdicts  before(8)                            -> verdict block
//   chains    'h' device(16) incarnation(4)        -> seq(8) hash(32)
//             's' device(16) incarnation(4) seq(8) -> segment
//             't' level(1) index(8)                -> hash(32)
//             'g' arrivals(8)                      -> log hash(32)
//   state     kind(1) id(16)                       -> subject
//   index     entry                                -> (empty)
//   pending   device(16) incarnation(4) seq(8)     -> signature(64) commit
//   meta      name                                 -> value
//   segment = varint(first arrival) { varint(how much higher the next one is) }
//   "point", "base" = arrivals(8) log-hash(32)
//
// Pure.

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "client/base/merkle.h"
#include "client/facts/arrival.h"
#include "client/facts/chain.h"
#include "client/registry/encode.h"

namespace broodpact::store {

// Names in `meta` that are the store's own.
inline constexpr std::string_view kFormatName = "format";
inline constexpr std::string_view kPointName = "point";
inline constexpr std::string_view kFoldedName = "folded";
inline constexpr std::string_view kFoldVersionName = "fold";
inline constexpr std::string_view kTreeName = "tree";
inline constexpr std::string_view kBaseName = "base";
inline constexpr std::string_view kBeginningName = "beginning";

// Whether a name is one of those.
bool IsStoresOwn(std::string_view name);

// Above every key of a part.
inline constexpr std::string_view kAboveAllKeys = "\xFF\xFF\xFF\xFF\xFF\xFF\xFF\xFF\xFF";

// Commits in one segment of a chain: bounds what a look-up decodes.
inline constexpr std::size_t kSegmentCommitsMax = 1024;

// A key, built without touching the heap.
class Key {
 public:
  Key& Letter(char letter);
  Key& Big32(std::uint32_t number);
  Key& Big64(std::uint64_t number);
  Key& Raw(std::string_view bytes);

  std::string_view view() const { return {bytes_.data(), size_}; }

 private:
  std::array<char, 32> bytes_{};
  std::size_t size_ = 0;
};

// Key of a log or verdict block: the arrivals before its first one.
Key BlockKey(std::uint64_t arrivals_before);
Key HeadKey(const facts::ChainId& chain);
// What the keys of all heads, or of those of one device, begin with, and back.
Key HeadPrefix();
Key HeadPrefix(const DeviceId& device);
std::optional<facts::ChainId> ParseHeadKey(std::string_view key);
Key SegmentKey(const facts::ChainId& chain, std::uint64_t first_seq);
// What the keys of a chain's segments begin with.
Key SegmentPrefix(const facts::ChainId& chain);
// A complete subtree of the log's tree; the log hash after that many arrivals.
Key TreeKey(const MerklePlace& place);
Key LogHashKey(std::uint64_t arrivals);
Key PendingKey(const facts::ChainId& chain, std::uint64_t seq);
// The same bytes as registry::KeyText.
Key StateKey(const registry::SubjectKey& key);

// Numbers in keys and values. Nothing if `bytes` is not 8 bytes.
std::string Big64Text(std::uint64_t number);
std::optional<std::uint64_t> ParseBig64(std::string_view bytes);

// The last 8 bytes of a key as a number; 0 if it has fewer.
std::uint64_t NumberAtEnd(std::string_view key);

std::string EncodePoint(const facts::LogPoint& point);
std::optional<facts::LogPoint> DecodePoint(std::string_view bytes);

std::string EncodeHead(const facts::ChainHead& head);
std::optional<facts::ChainHead> DecodeHead(std::string_view bytes);

// Consecutive commits of one chain, by their arrival numbers.
class Segment {
 public:
  Segment(std::uint64_t first_seq, std::uint64_t arrival);

  // Whether the commit `seq` continues this segment, and there is room.
  bool Continues(std::uint64_t seq) const {
    return seq == first_seq_ + count_ && count_ < kSegmentCommitsMax;
  }
  // `arrival` is higher than the last.
  void Add(std::uint64_t arrival);

  std::uint64_t first_seq() const { return first_seq_; }
  const std::string& value() const { return value_; }

 private:
  std::uint64_t first_seq_ = 0;
  std::uint64_t count_ = 0;
  std::uint64_t last_arrival_ = 0;
  std::string value_;
};

// The arrival number of the commit `place` places after the first one of a segment; nothing if the
// segment is shorter. `damaged` is set where the bytes are no segment.
std::optional<std::uint64_t> ArrivalInSegment(std::string_view value, std::uint64_t place,
                                              bool& damaged);

// What the keys of the pending commits begin with, and back.
struct PendingPlace {
  facts::ChainId chain;
  std::uint64_t seq = 0;
};
std::optional<PendingPlace> ParsePendingKey(std::string_view key);

// The first key after all that begin with `prefix`; empty: there is none.
std::string AfterPrefix(std::string_view prefix);

}  // namespace broodpact::store
