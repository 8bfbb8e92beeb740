#include "client/sync/bundle.h"

#include <algorithm>
#include <array>
#include <limits>
#include <tuple>
#include <utility>

#include "absl/status/status.h"
#include <fmt/format.h>

#include "client/base/bytes.h"
#include "client/base/check.h"
#include "client/base/status.h"
#include "client/sync/chunk.h"
#include "client/sync/session.h"

namespace broodpact::sync {
namespace {

static_assert(kBundleBlockBytesMax == kChunkBytesMax, "blocks are packed as log chunks are");

constexpr std::string_view kBeginning = "broodpact bundle 1\n";
constexpr std::string_view kAnyBeginning = "broodpact bundle ";
constexpr std::size_t kCheckSize = 8;
constexpr std::size_t kSizeSize = 4;
// What cannot be packed grows a little.
constexpr std::size_t kPackedMax = kBundleBlockBytesMax + kBundleBlockBytesMax / 64;
constexpr char kEnd = 'E';

std::string SizeText(std::size_t size) {
  std::string text;
  for (int shift = 24; shift >= 0; shift -= 8) {
    text.push_back(static_cast<char>((size >> shift) & 0xFF));
  }
  return text;
}

std::size_t SizeIn(std::string_view bytes) {
  std::size_t size = 0;
  for (const char byte : bytes) size = (size << 8) | static_cast<std::uint8_t>(byte);
  return size;
}

std::string CheckAfter(std::string_view check, char kind, std::string_view packed) {
  const std::string size = SizeText(packed.size());
  const Hash hash = Sha256({check, std::string_view(&kind, 1), size, packed});
  return std::string(ViewOf(hash).substr(0, kCheckSize));
}

absl::Status CutError() {
  return Fail(absl::StatusCode::kDataLoss, "BUNDLE_CUT",
              "the bundle is cut short; what is before the cut is good, copy the file again for "
              "the rest");
}

absl::Status DamagedError(std::string_view what) {
  return Fail(absl::StatusCode::kDataLoss, "BUNDLE_DAMAGED",
              fmt::format("the bundle is damaged: {}; what is before it is good, ask for the file "
                          "once more",
                          what));
}

// Reads exactly so many bytes, growing as they come: a size is only a claim.
std::optional<std::string> ReadExactly(std::istream& in, std::size_t size) {
  constexpr std::size_t kStep = 65'536;
  std::string bytes;
  while (bytes.size() < size) {
    const std::size_t begin = bytes.size();
    const std::size_t step = std::min(kStep, size - begin);
    bytes.resize(begin + step);
    in.read(bytes.data() + begin, static_cast<std::streamsize>(step));
    if (static_cast<std::size_t>(in.gcount()) != step) return std::nullopt;
  }
  return bytes;
}

template <typename Array>
Array TakeArray(ByteReader& reader) {
  Array array{};
  const std::string_view raw = reader.Raw(array.size());
  if (raw.size() == array.size()) std::copy(raw.begin(), raw.end(), array.begin());
  return array;
}

std::uint32_t TakeNumber32(ByteReader& reader, bool& fits) {
  const std::uint64_t number = reader.Unsigned();
  fits = fits && number <= std::numeric_limits<std::uint32_t>::max();
  return static_cast<std::uint32_t>(number);
}

void Put(ByteWriter& writer, const BundleHeader& header) {
  writer.Raw(ViewOf(header.cooperative));
  writer.Raw(ViewOf(header.writer.bytes));
  writer.Signed(header.time_ms);
}

bool Take(ByteReader& reader, BundleHeader& header) {
  header.cooperative = TakeArray<Hash>(reader);
  header.writer.bytes = TakeArray<IdBytes>(reader);
  header.time_ms = reader.Signed();
  return reader.ok() && reader.at_end();
}

void Put(ByteWriter& writer, const facts::LogPoint& point) {
  writer.Unsigned(point.arrivals);
  writer.Raw(ViewOf(point.log_hash));
}

void Put(ByteWriter& writer, const facts::ChainId& chain, const facts::ChainHead& head) {
  writer.Raw(ViewOf(chain.device.bytes));
  writer.Unsigned(chain.incarnation);
  writer.Unsigned(head.seq);
  writer.Raw(ViewOf(head.hash));
}

bool Take(ByteReader& reader, BundleFrontier& frontier) {
  frontier.point.arrivals = reader.Unsigned();
  frontier.point.log_hash = TakeArray<Hash>(reader);
  bool fits = true;
  while (reader.ok() && !reader.at_end()) {
    auto& [chain, head] = frontier.chains.emplace_back();
    chain.device.bytes = TakeArray<IdBytes>(reader);
    chain.incarnation = TakeNumber32(reader, fits);
    head.seq = reader.Unsigned();
    head.hash = TakeArray<Hash>(reader);
  }
  return reader.ok() && fits;
}

bool Take(std::string_view bytes, Epochs& epochs) {
  std::optional<Epochs> decoded = DecodeEpochs(bytes);
  if (!decoded || decoded->size() > kEpochsMax) return false;
  epochs = *std::move(decoded);
  return true;
}

bool Take(ByteReader& reader, BundleLog& log) {
  log.arrivals_before = reader.Unsigned();
  if (!reader.ok()) return false;
  log.records = std::string(reader.rest());
  return true;
}

bool Take(ByteReader& reader, std::vector<facts::SignedCommit>& mail) {
  while (reader.ok() && !reader.at_end()) {
    facts::SignedCommit& commit = mail.emplace_back();
    commit.bytes = reader.Text();
    commit.signature = TakeArray<Signature>(reader);
  }
  return reader.ok();
}

}  // namespace

BundleWriter::BundleWriter(std::ostream& out, const BundleHeader& header)
    : out_(out), check_(kCheckSize, '\0') {
  out_.write(kBeginning.data(), static_cast<std::streamsize>(kBeginning.size()));
  std::string bytes;
  ByteWriter writer(bytes);
  Put(writer, header);
  Write('H', bytes);
}

void BundleWriter::Add(const BundleFrontier& frontier) {
  std::string beginning;
  ByteWriter point_writer(beginning);
  Put(point_writer, frontier.point);
  std::string bytes = beginning;
  for (const auto& [chain, head] : frontier.chains) {
    std::string one;
    ByteWriter writer(one);
    Put(writer, chain, head);
    if (bytes.size() + one.size() > kBundleBlockBytesMax) {
      Write('F', bytes);
      bytes = beginning;
    }
    bytes += one;
  }
  Write('F', bytes);
}

void BundleWriter::Add(const Epochs& epochs) {
  Write('P', EncodeEpochs(epochs));
}

void BundleWriter::Add(const Head& head) {
  Write('S', EncodeHead(head));
}

void BundleWriter::Add(const BundleLog& log) {
  std::string bytes;
  ByteWriter writer(bytes);
  writer.Unsigned(log.arrivals_before);
  writer.Raw(log.records);
  Write('L', bytes);
}

void BundleWriter::Add(const std::vector<facts::SignedCommit>& mail) {
  std::string bytes;
  ByteWriter writer(bytes);
  for (const facts::SignedCommit& commit : mail) {
    writer.Text(commit.bytes);
    writer.Raw(ViewOf(commit.signature));
  }
  Write('M', bytes);
}

void BundleWriter::Finish() {
  WriteBlock(kEnd, "");
  out_.flush();
}

void BundleWriter::Write(char kind, std::string_view bytes) {
  BP_CHECK(bytes.size() <= kBundleBlockBytesMax);
  WriteBlock(kind, PackRecords(bytes));
}

void BundleWriter::WriteBlock(char kind, std::string_view packed) {
  check_ = CheckAfter(check_, kind, packed);
  out_ << kind << SizeText(packed.size());
  out_.write(packed.data(), static_cast<std::streamsize>(packed.size()));
  out_.write(check_.data(), static_cast<std::streamsize>(check_.size()));
}

absl::Status BundleReader::ReadBeginning() {
  const std::optional<std::string> beginning = ReadExactly(in_, kBeginning.size());
  if (beginning == kBeginning) return absl::OkStatus();
  const bool newer = beginning && beginning->starts_with(kAnyBeginning);
  return Fail(absl::StatusCode::kInvalidArgument, "BUNDLE_FORM",
              newer ? "the bundle is of a newer version; upgrade to read it"
                    : "the file is no bundle; `broodpact bundle write` makes one");
}

absl::StatusOr<std::optional<BundleBlock>> BundleReader::Next() {
  if (ended_) return std::optional<BundleBlock>();
  if (!begun_) {
    BP_RETURN_IF_ERROR(ReadBeginning());
    begun_ = true;
    check_.assign(kCheckSize, '\0');
  }
  const std::optional<std::string> lead = ReadExactly(in_, 1 + kSizeSize);
  if (!lead) return CutError();
  const char kind = lead->front();
  const std::size_t size = SizeIn(std::string_view(*lead).substr(1));
  if (size > kPackedMax) {
    return Fail(absl::StatusCode::kResourceExhausted, "BUNDLE_TOO_LARGE",
                fmt::format("a block of the bundle has {} bytes; at most {} are taken, whoever "
                            "wrote it means you no good",
                            size, kPackedMax));
  }
  const std::optional<std::string> packed = ReadExactly(in_, size);
  if (!packed) return CutError();
  const std::optional<std::string> check = ReadExactly(in_, kCheckSize);
  if (!check) return CutError();
  check_ = CheckAfter(check_, kind, *packed);
  if (check_ != *check) return DamagedError("a check does not hold");
  if (kind == kEnd) {
    ended_ = true;
    return std::optional<BundleBlock>();
  }
  return BlockIn(kind, *packed);
}

absl::StatusOr<std::optional<BundleBlock>> BundleReader::BlockIn(char kind,
                                                                 std::string_view packed) {
  const absl::StatusOr<std::string> bytes = UnpackRecords(packed);
  if (ReasonOf(bytes.status()) == "CHUNK_TOO_LARGE") {
    return Fail(absl::StatusCode::kResourceExhausted, "BUNDLE_TOO_LARGE",
                fmt::format("a block of the bundle unpacks to more than {} bytes; whoever wrote it "
                            "means you no good",
                            kBundleBlockBytesMax));
  }
  if (!bytes.ok()) return DamagedError("a block cannot be unpacked");

  BundleBlock block;
  ByteReader reader(*bytes);
  bool good = true;
  if (kind == 'H') good = !has_header_ && Take(reader, block.header.emplace());
  if (kind == 'F') good = Take(reader, block.frontier.emplace());
  if (kind == 'P') good = !has_epochs_ && !has_head_ && Take(*bytes, block.epochs);
  if (kind == 'S') {
    block.head = DecodeHead(*bytes);
    good = block.head.has_value();
  }
  if (kind == 'L') good = Take(reader, block.log.emplace());
  if (kind == 'M') good = Take(reader, block.mail);
  has_header_ = has_header_ || kind == 'H';
  has_epochs_ = has_epochs_ || kind == 'P';
  has_head_ = has_head_ || kind == 'S';
  if (good && has_header_) return std::optional<BundleBlock>(std::move(block));
  return DamagedError(has_header_ ? "a block cannot be read" : "it does not say whose it is");
}

}  // namespace broodpact::sync
