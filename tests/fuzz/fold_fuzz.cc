// Any commits in any order, on a state that is under way: each gets a verdict, refusals say why,
// and slings are neither made nor lost. Never a crash.
//
// The bytes are [how many commits of the season stand already, one byte], then
// [length, two bytes, the lower first][commit] again and again. `season` is such a list of
// commits, most of which count: a small cooperative from its founding to a split.

#include <cstddef>
#include <cstdint>
#include <cstring>
#include <fstream>
#include <iterator>
#include <string>
#include <string_view>
#include <vector>

#include "broodpact/v1/commit.pb.h"
#include "client/base/check.h"
#include "client/facts/commit.h"
#include "client/registry/encode.h"
#include "client/registry/fold.h"
#include "client/registry/state.h"
#include "client/replica/internal/map_source.h"
#include "tests/fuzz/meddle.h"
#include "tests/fuzz/pieces.h"

namespace facts = broodpact::facts;
namespace fuzz = broodpact::fuzz;
namespace registry = broodpact::registry;
namespace v1 = broodpact::v1;

// libFuzzer's own mutations of bytes.
extern "C" std::size_t LLVMFuzzerMutate(std::uint8_t* data, std::size_t size, std::size_t size_max);

namespace {

constexpr std::uint64_t kCommitsMax = 16;
constexpr std::int64_t kNoon = 1'795'597'200'000;

facts::Arrived Arriving(const facts::Commit& commit, std::uint64_t arrival) {
  return {.commit = commit, .arrival = arrival, .time_ms = kNoon};
}

// The season, and the state after each of its commits.
struct Season {
  std::vector<std::string> commits;
  std::vector<broodpact::replica::MapSource> states;  // states[n]: after n of them

  std::size_t counted = 0;

  Season() : states(1) {
    std::ifstream in(BROODPACT_SEASON, std::ios::binary);
    const std::string file(std::istreambuf_iterator<char>(in), {});
    std::string_view bytes = file;
    while (bytes.size() >= 2) {
      commits.emplace_back(fuzz::TakePiece(bytes));
      const auto commit = facts::ParseCommit(commits.back());
      BP_CHECK(commit.ok());
      broodpact::replica::MapSource next = states.back();
      registry::State state(next);
      counted += registry::Fold(state, Arriving(*commit, commits.size())).kind ==
                         registry::VerdictKind::kCounted
                     ? 1
                     : 0;
      next.Store(state.TakeChanges());
      states.push_back(std::move(next));
    }
    BP_CHECK(counted * 2 > commits.size());
  }
};

const Season& TheSeason() {
  static const Season season;
  return season;
}

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

fuzz::Meddler WhoKnows(const Season& season) {
  fuzz::Meddler meddler;
  for (const std::string& commit : season.commits) {
    v1::Commit message;
    if (message.ParseFromString(commit)) meddler.Learn(message);
  }
  return meddler;
}

// Meddles with one of the commits in `bytes`, or puts one of the season behind them.
std::string Meddled(std::string_view bytes, unsigned seed) {
  static fuzz::Meddler meddler = WhoKnows(TheSeason());
  meddler.Begin(seed);
  std::vector<std::string> pieces;
  std::string out(1, bytes.empty() ? '\0' : bytes.front());
  if (!bytes.empty()) bytes.remove_prefix(1);
  while (bytes.size() >= 2) pieces.emplace_back(fuzz::TakePiece(bytes));
  if (pieces.empty() || meddler.Below(8) == 0) {
    pieces.push_back(TheSeason().commits[meddler.Below(TheSeason().commits.size())]);
  }
  if (pieces.size() > kCommitsMax) pieces.resize(kCommitsMax);
  if (meddler.Below(16) == 0) out[0] = static_cast<char>(meddler.Below(256));
  std::string& piece = pieces[meddler.Below(pieces.size())];
  v1::Commit message;
  if (message.ParseFromString(piece)) {
    for (std::size_t times = 1 + meddler.Below(3); times > 0; --times) meddler.Meddle(message);
    piece = message.SerializeAsString();
  }
  for (const std::string& each : pieces) fuzz::AppendPiece(out, each);
  return out;
}

}  // namespace

extern "C" std::size_t LLVMFuzzerCustomMutator(std::uint8_t* data, std::size_t size,
                                               std::size_t size_max, unsigned seed) {
  if (seed % 4 == 0) return LLVMFuzzerMutate(data, size, size_max);
  const std::string changed = Meddled({reinterpret_cast<const char*>(data), size}, seed);
  if (changed.size() > size_max) return LLVMFuzzerMutate(data, size, size_max);
  std::memcpy(data, changed.data(), changed.size());
  return changed.size();
}

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  if (size == 0) return 0;
  const Season& season = TheSeason();
  const std::size_t stand = data[0] % season.states.size();
  std::string_view bytes(reinterpret_cast<const char*>(data) + 1, size - 1);
  registry::State state(season.states[stand]);
  for (std::uint64_t arrival = stand + 1; arrival <= stand + kCommitsMax && bytes.size() >= 2;) {
    const auto commit = facts::ParseCommit(fuzz::TakePiece(bytes));
    if (!commit.ok()) continue;
    const registry::Verdict verdict = registry::Fold(state, Arriving(*commit, arrival));
    BP_CHECK(verdict.kind == registry::VerdictKind::kCounted || !verdict.reason.empty());
    ++arrival;
  }
  for (const registry::Change& change : state.TakeChanges()) CheckChange(change);
  return 0;
}
