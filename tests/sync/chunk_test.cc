// Goal: a chunk unpacks to what was packed, and a hostile one costs bounded memory and gets a clear
// error. Method: a law for the way there and back, laws that spoil a chunk, and bombs.

#include "client/sync/chunk.h"

#include <string>

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "client/base/status.h"
#include "client/sync/session.h"
#include <zstd.h>

namespace broodpact::sync {
namespace {

std::string PackedByZstd(const std::string& bytes) {
  std::string packed(ZSTD_compressBound(bytes.size()), '\0');
  packed.resize(ZSTD_compress(packed.data(), packed.size(), bytes.data(), bytes.size(), 19));
  return packed;
}

// A frame that does not say how much it holds, as a streaming writer makes it.
std::string PackedWithoutSize(const std::string& bytes) {
  ZSTD_CCtx* const context = ZSTD_createCCtx();
  ZSTD_CCtx_setParameter(context, ZSTD_c_contentSizeFlag, 0);
  std::string packed(ZSTD_compressBound(bytes.size()), '\0');
  packed.resize(ZSTD_compress2(context, packed.data(), packed.size(), bytes.data(), bytes.size()));
  ZSTD_freeCCtx(context);
  return packed;
}

RC_GTEST_PROP(Chunk, UnpacksToWhatWasPacked, ()) {
  const auto records = *rc::gen::arbitrary<std::string>();
  const auto unpacked = UnpackRecords(PackRecords(records));
  RC_ASSERT(unpacked.ok());
  RC_ASSERT(*unpacked == records);
}

RC_GTEST_PROP(Chunk, CutShortIsRefused, ()) {
  const std::string packed = PackRecords(*rc::gen::arbitrary<std::string>());
  const auto size = *rc::gen::inRange<std::size_t>(0, packed.size());
  RC_ASSERT(ReasonOf(UnpackRecords(packed.substr(0, size)).status()) == "CHUNK_FORM");
}

RC_GTEST_PROP(Chunk, OfAnyBytesIsNoCrash, ()) {
  std::string packed = PackRecords(*rc::gen::arbitrary<std::string>());
  const auto at = *rc::gen::inRange<std::size_t>(0, packed.size());
  packed[at] = *rc::gen::arbitrary<char>();
  const auto unpacked = UnpackRecords(packed);
  if (unpacked.ok()) RC_ASSERT(unpacked->size() <= kChunkBytesMax);
}

TEST(Chunk, OfTheLargestSizeIsTaken) {
  const std::string records(kChunkBytesMax, 'x');
  const auto unpacked = UnpackRecords(PackedByZstd(records));
  ASSERT_TRUE(unpacked.ok());
  EXPECT_EQ(unpacked->size(), kChunkBytesMax);
}

TEST(Chunk, ThatWouldBurstIsRefusedByWhatItClaims) {
  const std::string bomb = PackedByZstd(std::string(kChunkBytesMax + 1, '\0'));
  ASSERT_LT(bomb.size(), 1'000U);
  const auto unpacked = UnpackRecords(bomb);
  EXPECT_EQ(unpacked.status().code(), absl::StatusCode::kResourceExhausted);
  EXPECT_EQ(ReasonOf(unpacked.status()), "CHUNK_TOO_LARGE");
}

TEST(Chunk, ThatHidesItsSizeIsRefused) {
  const std::string packed = PackedWithoutSize(std::string(1'000, 'x'));
  EXPECT_EQ(ReasonOf(UnpackRecords(packed).status()), "CHUNK_FORM");
}

TEST(Chunk, WithSomethingBehindItIsRefused) {
  const std::string packed = PackRecords("records");
  EXPECT_EQ(ReasonOf(UnpackRecords(packed + packed).status()), "CHUNK_FORM");
  EXPECT_EQ(ReasonOf(UnpackRecords(packed + "x").status()), "CHUNK_FORM");
}

}  // namespace
}  // namespace broodpact::sync
