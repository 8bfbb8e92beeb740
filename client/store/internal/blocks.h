#pragma once

// Blocks of the log and of its verdicts: how arrivals are grouped into values of the database.
//
// From FORMAT.md:
//
//   log-block     = varint(count * 2 + closed) record{count}   record: facts/arrival.h
//   verdict-block = varint(count) { varint(length) verdict }{count}   length 0: plainly counted
//
// A block is closed (1) if every run in its batch up to its end is vouched for by a signature up to
// its end.
//
// A block ends at 64 records or 16 KiB at the latest, and before that at a place where it is
// closed, if it is half full or began within a run. Batches never share a block.
//
// Pure.

#include <cstdint>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "client/facts/arrival.h"
#include "client/facts/chain.h"
#include "client/facts/range.h"
#include "client/registry/verdict.h"

namespace broodpact::store {

inline constexpr std::size_t kBlockRecordsMax = 64;
inline constexpr std::size_t kBlockBytesMax = std::size_t{16} * 1024;

struct LogBlock {
  std::uint64_t count = 0;
  bool closed = false;
  std::string_view records;
};

// Nothing if `value` does not begin as a block does. The records are not looked at.
std::optional<LogBlock> DecodeLogBlock(std::string_view value);

// Cuts a range into log blocks, one after the other.
class BlockCutter {
 public:
  // `range` outlives the cutter.
  explicit BlockCutter(const facts::Range& range) : range_(range) {}

  bool at_end() const { return next_ == range_.arrivals.size(); }

  // Writes the next block into `value`, whose bytes it replaces, and returns how many arrivals it
  // has. Not at the end.
  std::size_t Next(std::string& value);

 private:
  void Follow(const facts::ChainId& chain, bool vouched);

  const facts::Range& range_;
  std::size_t next_ = 0;
  bool begins_closed_ = true;
  std::set<facts::ChainId> open_;  // chains with commits that are not vouched for yet
  std::string records_;
};

// The block of verdicts[first .. first + count).
void EncodeVerdictBlock(const std::vector<registry::Verdict>& verdicts, std::size_t first,
                        std::size_t count, std::string& value);

// How many verdicts a block has; nothing if it is no block.
std::optional<std::uint64_t> VerdictCountOf(std::string_view value);

// Nothing if `value` is no block.
std::optional<std::vector<registry::Verdict>> DecodeVerdictBlock(std::string_view value);

}  // namespace broodpact::store
