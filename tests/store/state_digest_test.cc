// Goal: the digest is what its header says, whatever the batches were.
// Method: a plain second computation over the whole text; states that differ in one byte.

#include "client/store/state_digest.h"

#include <map>

#include "gtest/gtest.h"
#include "rapidcheck/gtest.h"

#include "client/base/bytes.h"
#include "client/store/store.h"
#include "tests/store/trial_log.h"

namespace broodpact::store {
namespace {

// The definition, read as a person would.
Hash PlainDigest(const std::map<std::string, std::string>& state) {
  Hash digest{};
  std::string piece;
  for (const auto& [key, value] : state) {
    piece += key;
    ByteWriter(piece).Text(value);
    if (piece.size() < 65'536) continue;
    digest = Sha256(std::string(ViewOf(digest)) + piece);
    piece.clear();
  }
  return piece.empty() ? digest : Sha256(std::string(ViewOf(digest)) + piece);
}

TEST(StateDigest, OfNothingIsZeros) {
  EXPECT_EQ(StateHasher().Finish(), Hash{});
}

RC_GTEST_PROP(StateDigest, IsTheHashOfItsPieces, ()) {
  std::map<std::string, std::string> state;
  const auto seed = *rc::gen::arbitrary<std::uint32_t>();
  std::mt19937 random(seed);
  const auto count = *rc::gen::inRange<std::size_t>(0, 30);
  for (std::size_t i = 0; i < count; ++i) {
    std::string key(17, static_cast<char>(random() % 4));
    key[5] = static_cast<char>(random());
    state[key] = std::string(random() % 20'000, static_cast<char>(random()));
  }
  StateHasher hasher;
  for (const auto& [key, value] : state) hasher.Add(key, value);
  RC_ASSERT(hasher.subjects() == state.size());
  RC_ASSERT(hasher.Finish() == PlainDigest(state));
}

TEST(StateDigest, DiffersWhereTheBorderBetweenValuesDoes) {
  StateHasher one;
  one.Add(std::string(17, 'a'), "xy");
  StateHasher other;
  other.Add(std::string(17, 'a'), "x");
  EXPECT_NE(one.Finish(), other.Finish());
}

TEST(StateDigest, IsTheSameHoweverTheStateCameAbout) {
  const TempFolder folder_a;
  const TempFolder folder_b;
  const auto at_once = OpenForWriting(folder_a.path());
  const auto bit_by_bit = OpenForWriting(folder_b.path());
  const facts::Range none;
  Batch all{.range = none};
  std::map<std::string, std::string> twin;
  for (std::uint8_t i = 0; i < 200; ++i) {
    const registry::SubjectKey key{.kind = registry::Kind::kAnimal, .id = {i}};
    const std::string value(1000, static_cast<char>(i));
    twin[registry::KeyText(key)] = value;
    all.changes.push_back({.key = key, .value = value, .index_removed = {}, .index_added = {}});
    Batch single{.range = none, .durability = Durability::kWritten};
    for (const std::string& written : {std::string("before"), value}) {
      single.changes = {{.key = key, .value = written, .index_removed = {}, .index_added = {}}};
      ASSERT_TRUE(bit_by_bit->Append(single).ok());
    }
    if (i == 100) {
      ASSERT_TRUE(bit_by_bit->Flush().ok());
    }
  }
  ASSERT_TRUE(at_once->Append(all).ok());
  EXPECT_EQ(*at_once->StateDigest(), PlainDigest(twin));
  EXPECT_EQ(*bit_by_bit->StateDigest(), PlainDigest(twin));
}

}  // namespace
}  // namespace broodpact::store
