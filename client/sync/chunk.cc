#include "client/sync/chunk.h"

#include "absl/status/status.h"
#include <fmt/format.h>

#include "client/base/check.h"
#include "client/base/status.h"
#include "client/sync/session.h"
#include <zstd.h>

namespace broodpact::sync {
namespace {

// Level 1 packs commits to about 40 % at several hundred MB/s; higher levels gain little on bytes
// that are mostly hashes.
constexpr int kLevel = 1;

absl::Status FormError() {
  return Fail(absl::StatusCode::kInvalidArgument, "CHUNK_FORM",
              "the other side sent a log chunk that is damaged; sync again");
}

}  // namespace

std::string PackRecords(std::string_view records) {
  std::string packed(ZSTD_compressBound(records.size()), '\0');
  const std::size_t size =
      ZSTD_compress(packed.data(), packed.size(), records.data(), records.size(), kLevel);
  BP_CHECK(ZSTD_isError(size) == 0U);
  packed.resize(size);
  return packed;
}

absl::StatusOr<std::string> UnpackRecords(std::string_view packed) {
  // The size is what the frame claims; zstd writes no more than that, and a frame that holds
  // another number of bytes is refused. So what is spent is bounded before it is spent.
  const unsigned long long claimed = ZSTD_getFrameContentSize(packed.data(), packed.size());
  if (claimed == ZSTD_CONTENTSIZE_ERROR || claimed == ZSTD_CONTENTSIZE_UNKNOWN) return FormError();
  if (claimed > kChunkBytesMax) {
    return Fail(absl::StatusCode::kResourceExhausted, "CHUNK_TOO_LARGE",
                fmt::format("a log chunk unpacks to {} bytes; at most {} are taken", claimed,
                            kChunkBytesMax));
  }
  if (ZSTD_findFrameCompressedSize(packed.data(), packed.size()) != packed.size()) {
    return FormError();  // cut short, or something follows the frame
  }
  std::string records(static_cast<std::size_t>(claimed), '\0');
  const std::size_t size =
      ZSTD_decompress(records.data(), records.size(), packed.data(), packed.size());
  if (ZSTD_isError(size) != 0U || size != records.size()) return FormError();
  return records;
}

}  // namespace broodpact::sync
