// What kinship costs as a cooperative grows: inbreeding of all, mean kinship of the living, one
// against all, one new clutch, a plan's table, at ten thousand, a hundred thousand and a million
// animals in twenty overlapping generations.
//
// The second argument is the mean size of clutches. Animals of one clutch have one family, so that
// small clutches are the hard case: a million animals in clutches of 20 are 50,000 families.

#include <numeric>

#include "client/base/check.h"
#include "client/kinship/gene_drop.h"
#include "client/kinship/pedigree.h"
#include "tests/bench/pedigree_generator.h"
#include <benchmark/benchmark.h>

namespace broodpact::bench {
namespace {

std::vector<kinship::Parents> Generated(const benchmark::State& state) {
  return GeneratePedigree({.animals = static_cast<std::size_t>(state.range(0)),
                           .clutch_mean = static_cast<std::uint64_t>(state.range(1))});
}

kinship::Pedigree Made(const benchmark::State& state) {
  auto pedigree = kinship::Pedigree::Of(Generated(state));
  BP_CHECK(pedigree.ok());
  return *std::move(pedigree);
}

// The younger half.
std::vector<kinship::Node> Living(const kinship::Pedigree& pedigree) {
  std::vector<kinship::Node> living(pedigree.size() / 2);
  std::iota(living.begin(), living.end(), static_cast<kinship::Node>(pedigree.size() / 2));
  return living;
}

void Sizes(benchmark::internal::Benchmark* bench) {
  bench->Args({10'000, 100})->Args({100'000, 100})->Args({1'000'000, 100});
  bench->Unit(benchmark::kMillisecond);
}

void InbreedingOfAll(benchmark::State& state) {
  const kinship::Lines lines{.animals = Generated(state)};
  for (auto _ : state) {
    benchmark::DoNotOptimize(kinship::Pedigree::Of(lines));
  }
}
BENCHMARK(InbreedingOfAll)->Apply(Sizes)->Args({1'000'000, 50})->Args({1'000'000, 20});

void MeanKinshipOfLiving(benchmark::State& state) {
  const kinship::Pedigree pedigree = Made(state);
  const std::vector<kinship::Node> living = Living(pedigree);
  for (auto _ : state) {
    benchmark::DoNotOptimize(pedigree.MeanKinshipOf(living));
  }
}
BENCHMARK(MeanKinshipOfLiving)->Apply(Sizes);

void OneAgainstAll(benchmark::State& state) {
  const kinship::Pedigree pedigree = Made(state);
  for (auto _ : state) {
    benchmark::DoNotOptimize(
        pedigree.KinshipWithAll(static_cast<kinship::Node>(pedigree.size() - 1)));
  }
}
BENCHMARK(OneAgainstAll)->Apply(Sizes);

void OneNewClutch(benchmark::State& state) {
  kinship::Pedigree pedigree = Made(state);
  auto sire = static_cast<kinship::Node>(pedigree.size() - 7);
  auto dam = static_cast<kinship::Node>(pedigree.size() - pedigree.size() / 30);
  for (auto _ : state) {
    BP_CHECK(pedigree.AddClutch({.sire = sire--, .dam = dam--}, 200).ok());
  }
}
BENCHMARK(OneNewClutch)->Apply(Sizes)->Iterations(200);

void ThousandMalesWithThousandFemales(benchmark::State& state) {
  const kinship::Pedigree pedigree = Made(state);
  const std::vector<kinship::Node> living = Living(pedigree);
  const std::span<const kinship::Node> all(living);
  for (auto _ : state) {
    benchmark::DoNotOptimize(pedigree.KinshipBetween(all.first(1'000), all.last(1'000)));
  }
}
BENCHMARK(ThousandMalesWithThousandFemales)->Apply(Sizes);

void HundredGeneDrops(benchmark::State& state) {
  const kinship::Pedigree pedigree = Made(state);
  const std::vector<kinship::Node> living = Living(pedigree);
  for (auto _ : state) {
    benchmark::DoNotOptimize(kinship::DropGenes(pedigree, living, {.seed = 1, .drops = 100}));
  }
}
BENCHMARK(HundredGeneDrops)->Args({10'000, 100})->Unit(benchmark::kMillisecond);

}  // namespace
}  // namespace broodpact::bench

BENCHMARK_MAIN();
