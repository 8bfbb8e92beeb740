// Any commits in any order, as arrivals: each gets a verdict, refusals say why, and slings are
// neither made nor lost. Never a crash.
//
// The bytes are [length, two bytes, the lower first][commit] again and again. The corpus is a small
// history that counts, so that what is changed in it still meets the rules of the fold.

#include <cstddef>
#include <cstdint>
#include <string_view>

#include "client/base/check.h"
#include "client/facts/commit.h"
#include "client/registry/encode.h"
#include "client/registry/fold.h"
#include "client/registry/state.h"
#include "tests/fuzz/pieces.h"

namespace facts = broodpact::facts;
namespace registry = broodpact::registry;

namespace {

// More than the corpus has, and few enough to stay quick.
constexpr std::uint64_t kArrivalsMax = 64;
constexpr std::int64_t kNoon = 1'795'597'200'000;

void CheckChange(const registry::Change& change) {
  if (change.key.kind != registry::Kind::kClutch || change.value.empty()) return;
  const auto clutch = registry::Decode<registry::Clutch>(change.value);
  BP_CHECK(clutch.has_value());
  BP_CHECK(registry::Encode(*clutch) == change.value);
  const registry::Accounts& books = clutch->accounts;
  const std::int64_t sum =
      std::int64_t{books.undivided} + books.in_lots + books.dead + books.raised + books.unaccounted;
  BP_CHECK(sum == books.hatched);
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  std::string_view bytes(reinterpret_cast<const char*>(data), size);
  registry::State state(registry::EmptySource());
  for (std::uint64_t arrival = 1; arrival <= kArrivalsMax && bytes.size() >= 2;) {
    const auto commit = facts::ParseCommit(broodpact::fuzz::TakePiece(bytes));
    if (!commit.ok()) continue;
    const registry::Verdict verdict =
        registry::Fold(state, {.commit = *commit, .arrival = arrival, .time_ms = kNoon});
    BP_CHECK(verdict.kind == registry::VerdictKind::kCounted || !verdict.reason.empty());
    ++arrival;
  }
  for (const registry::Change& change : state.TakeChanges()) CheckChange(change);
  return 0;
}
