#include "client/store/internal/blocks.h"

#include "client/base/bytes.h"
#include "client/base/check.h"

namespace broodpact::store {
namespace {

bool PlainlyCounted(const registry::Verdict& verdict) {
  return verdict.kind == registry::VerdictKind::kCounted && verdict.reason.empty() &&
         verdict.message.empty() && verdict.winner_arrival == 0;
}

}  // namespace

std::optional<LogBlock> DecodeLogBlock(std::string_view value) {
  ByteReader reader(value);
  const std::uint64_t head = reader.Unsigned();
  if (!reader.ok() || head < 2 || head / 2 > kBlockRecordsMax) return std::nullopt;
  // The varint of at most 2 * 64 + 1 takes one byte below 128, two from there on.
  const std::size_t head_size = head < 0x80 ? 1 : 2;
  return LogBlock{
      .count = head / 2, .closed = (head & 1U) != 0, .records = value.substr(head_size)};
}

void BlockCutter::Follow(const facts::ChainId& chain, bool vouched) {
  if (vouched) {
    open_.erase(chain);
  } else {
    open_.insert(chain);
  }
}

std::size_t BlockCutter::Next(std::string& value) {
  BP_CHECK(!at_end());
  records_.clear();
  std::size_t count = 0;
  while (next_ < range_.arrivals.size()) {
    const facts::Arrived& arrived = range_.arrivals[next_];
    const std::optional<Signature>& signature = range_.signatures[next_];
    facts::AppendArrival(records_, {.commit = range_.bytes[next_],
                                    .time_ms = arrived.time_ms,
                                    .first_time_ms = arrived.first_time_ms,
                                    .signature = signature});
    Follow(facts::ChainOf(arrived.commit.header), signature.has_value());
    ++next_;
    ++count;
    if (count == kBlockRecordsMax || records_.size() >= kBlockBytesMax) break;
    const bool half_full = count >= kBlockRecordsMax / 2 || records_.size() >= kBlockBytesMax / 2;
    if (open_.empty() && (half_full || !begins_closed_)) break;
  }
  begins_closed_ = open_.empty();

  value.clear();
  ByteWriter(value).Unsigned(count * 2 + (begins_closed_ ? 1U : 0U));
  value.append(records_);
  return count;
}

void EncodeVerdictBlock(const std::vector<registry::Verdict>& verdicts, std::size_t first,
                        std::size_t count, std::string& value) {
  value.clear();
  ByteWriter writer(value);
  writer.Unsigned(count);
  for (std::size_t i = first; i < first + count; ++i) {
    writer.Text(PlainlyCounted(verdicts[i]) ? std::string() : registry::Encode(verdicts[i]));
  }
}

std::optional<std::uint64_t> VerdictCountOf(std::string_view value) {
  ByteReader reader(value);
  const std::uint64_t count = reader.Unsigned();
  if (!reader.ok() || count == 0) return std::nullopt;
  return count;
}

std::optional<std::vector<registry::Verdict>> DecodeVerdictBlock(std::string_view value) {
  ByteReader reader(value);
  std::vector<registry::Verdict> verdicts(reader.Count(1));
  for (registry::Verdict& verdict : verdicts) {
    const std::string_view bytes = reader.Text();
    if (!reader.ok()) return std::nullopt;
    if (bytes.empty()) continue;
    std::optional<registry::Verdict> decoded = registry::DecodeVerdict(bytes);
    if (!decoded.has_value()) return std::nullopt;
    verdict = *std::move(decoded);
  }
  if (!reader.ok() || !reader.at_end() || verdicts.empty()) return std::nullopt;
  return verdicts;
}

}  // namespace broodpact::store
