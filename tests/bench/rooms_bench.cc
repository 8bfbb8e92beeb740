// The rooms one by one, on a generated log: what a commit costs to read, to fold and to store, what
// a split and a search cost. Run beside limit.h's figures, which sync_bench prints.

#include <cmath>
#include <filesystem>
#include <map>
#include <random>

#include "client/base/check.h"
#include "client/facts/range.h"
#include "client/match/plan.h"
#include "client/registry/fold.h"
#include "client/registry/layer.h"
#include "client/replica/ledger.h"
#include "client/shares/split.h"
#include "client/store/store.h"
#include "tests/bench/generator.h"
#include <benchmark/benchmark.h>

namespace broodpact::bench {
namespace {

constexpr std::uint64_t kCommits = 20'000;

const GeneratedLog& Log() {
  static const GeneratedLog log = Generate({.commits = kCommits});
  return log;
}

facts::Range ReadAll() {
  facts::Range range{.before = {.arrivals = 0, .log_hash = Log().cooperative}};
  BP_CHECK(facts::ReadOnto(range, Log().founding + Log().records).ok());
  return range;
}

void ReadAndHash(benchmark::State& state) {
  for (auto _ : state) {
    benchmark::DoNotOptimize(ReadAll());
  }
  state.SetItemsProcessed(state.iterations() * static_cast<std::int64_t>(Log().arrivals));
}
BENCHMARK(ReadAndHash)->Unit(benchmark::kMillisecond);

void CheckChainsAndSignatures(benchmark::State& state) {
  const facts::Range range = ReadAll();
  const facts::RangeContext context{
      .head_of = [](const facts::ChainId&) { return facts::ChainHead{}; },
      .key_of = [](const DeviceId&) { return std::optional<PublicKey>(); },
      .cooperative = Log().cooperative};
  for (auto _ : state) {
    BP_CHECK(facts::CheckRange(range, context).ok());
  }
  state.SetItemsProcessed(state.iterations() * static_cast<std::int64_t>(Log().arrivals));
}
BENCHMARK(CheckChainsAndSignatures)->Unit(benchmark::kMillisecond);

void FoldAndEncode(benchmark::State& state) {
  const facts::Range range = ReadAll();
  for (auto _ : state) {
    registry::State folded(registry::EmptySource());
    for (const facts::Arrived& arrived : range.arrivals) {
      BP_CHECK(registry::Fold(folded, arrived).kind == registry::VerdictKind::kCounted);
    }
    benchmark::DoNotOptimize(folded.TakeChanges());
  }
  state.SetItemsProcessed(state.iterations() * static_cast<std::int64_t>(Log().arrivals));
}
BENCHMARK(FoldAndEncode)->Unit(benchmark::kMillisecond);

// Checks, folds and stores the whole log as one range, durably, into an empty replica.
void CheckFoldAndStore(benchmark::State& state) {
  const facts::Range range = ReadAll();
  const std::filesystem::path folder =
      std::filesystem::temp_directory_path() / "broodpact-rooms-bench";
  for (auto _ : state) {
    state.PauseTiming();
    std::filesystem::remove_all(folder);
    auto store = store::Store::Open(folder, store::Access::kReadWrite);
    BP_CHECK(store.ok());
    replica::Ledger ledger(**store);
    BP_CHECK(ledger.SetCooperative(Log().cooperative).ok());
    state.ResumeTiming();
    BP_CHECK(ledger.Append(range, std::nullopt, store::Durability::kSynced).ok());
  }
  std::filesystem::remove_all(folder);
  state.SetItemsProcessed(state.iterations() * static_cast<std::int64_t>(Log().arrivals));
}
BENCHMARK(CheckFoldAndStore)->Unit(benchmark::kMillisecond);

void SplitOfThreeParties(benchmark::State& state) {
  facts::Terms terms;
  for (std::uint8_t i = 0; i < 3; ++i) {
    KeeperId keeper;
    keeper.bytes[0] = i + 1;
    terms.parties.push_back({keeper, facts::PartyRole::kUnspecified});
  }
  terms.prior_claims = {{.party = 2, .kind = facts::ClaimKind::kSlings, .amount = 10}};
  terms.shares = {{0, 2}, {1, 2}, {2, 1}};
  for (auto _ : state) benchmark::DoNotOptimize(shares::SplitOf(terms, 187));
}
BENCHMARK(SplitOfThreeParties);

// A season of as many males as females, all pairs possible, their lines 6 generations deep. Exact;
// with both comparisons.
void PlanOfASeason(benchmark::State& state) {
  const auto count = static_cast<std::size_t>(state.range(0));
  std::mt19937 random(1);
  std::vector<kinship::Parents> parents(count);
  for (std::size_t generation = 1; generation < 6; ++generation) {
    for (std::size_t i = 0; i < count; ++i) {
      const auto from = static_cast<kinship::Node>((generation - 1) * count);
      const auto half = static_cast<kinship::Node>(count / 2);
      parents.push_back({.sire = from + static_cast<kinship::Node>(random()) % half,
                         .dam = from + half + static_cast<kinship::Node>(random()) % half});
    }
  }
  const std::size_t first = parents.size() - count;
  for (std::size_t i = 0; i < count; ++i) parents.push_back(parents[first + i]);
  const auto pedigree = kinship::Pedigree::Of(parents);
  BP_CHECK(pedigree.ok());
  match::Season season{.pedigree = *pedigree, .bounds = {.inbreeding_max = 0.125}};
  for (std::size_t i = 0; i < count; ++i) {
    AnimalId male;
    AnimalId female;
    KeeperId keeper;
    male.bytes = {1, static_cast<std::uint8_t>(i >> 8U), static_cast<std::uint8_t>(i)};
    female.bytes = {2, static_cast<std::uint8_t>(i >> 8U), static_cast<std::uint8_t>(i)};
    keeper.bytes = {3, static_cast<std::uint8_t>(i % 200)};
    const auto male_node = static_cast<kinship::Node>(first + i);
    season.living.push_back(male_node);
    season.living.push_back(male_node + static_cast<kinship::Node>(count));
    season.males.push_back({.animal = male,
                            .holder = keeper,
                            .node = male_node,
                            .lasting = 0.5 + 0.001 * static_cast<double>(random() % 500)});
    season.females.push_back({.animal = female,
                              .holder = keeper,
                              .node = male_node + static_cast<kinship::Node>(count),
                              .sac_chance = 0.6});
  }
  season.journey = [](const match::PlanMale& male, const match::PlanFemale& female) {
    const int apart = male.holder.bytes[1] - female.holder.bytes[1];
    return match::Journey{.km = static_cast<std::uint32_t>(10 * std::abs(apart))};
  };
  for (auto _ : state) {
    BP_CHECK(match::PlanSeason(season).plan.pairs.size() == count);
  }
}
BENCHMARK(PlanOfASeason)->Arg(250)->Arg(500)->Arg(1'000)->Unit(benchmark::kMillisecond);

}  // namespace
}  // namespace broodpact::bench

BENCHMARK_MAIN();
