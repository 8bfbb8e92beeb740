// What kinship costs as a cooperative grows: inbreeding of all, mean kinship of the living, one
// against all, one new clutch, a plan's table, at ten thousand, a hundred thousand and a million
// animals in twenty overlapping generations.
//
// The second argument is the mean size of clutches. Animals of one clutch have one family, so that
// small clutches are the hard case: a million animals in clutches of 20 are 50,000 families.
//
// "ratio" is the processor time of one run over what it may take: 2 s for the inbreeding of a
// million, 0.5 s for the mean kinship of the living, 0.2 s for one against all, 1 ms for a new
// clutch. Below 1 the limit is met.

#include <ctime>
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

// Tells the processor time from its making to its end, a run, as a ratio to a limit.
class Against {
 public:
  Against(benchmark::State& state, double limit_millis)
      : state_(state), limit_millis_(limit_millis), start_(std::clock()) {}
  ~Against() {
    const double millis = 1e3 * static_cast<double>(std::clock() - start_) / CLOCKS_PER_SEC;
    state_.counters["ratio"] = millis / static_cast<double>(state_.iterations()) / limit_millis_;
  }
  Against(const Against&) = delete;
  Against& operator=(const Against&) = delete;

 private:
  benchmark::State& state_;
  double limit_millis_;
  std::clock_t start_;
};

void Sizes(benchmark::internal::Benchmark* bench) {
  bench->Args({10'000, 100})->Args({100'000, 100})->Args({1'000'000, 100});
  bench->Unit(benchmark::kMillisecond);
}

void InbreedingOfAll(benchmark::State& state) {
  const kinship::Lines lines{.animals = Generated(state)};
  const Against limit(state, 2'000);
  for (auto _ : state) {
    benchmark::DoNotOptimize(kinship::Pedigree::Of(lines));
  }
}
BENCHMARK(InbreedingOfAll)->Apply(Sizes)->Args({1'000'000, 50})->Args({1'000'000, 20});

void MeanKinshipOfLiving(benchmark::State& state) {
  const kinship::Pedigree pedigree = Made(state);
  const std::vector<kinship::Node> living = Living(pedigree);
  const Against limit(state, 500);
  for (auto _ : state) {
    benchmark::DoNotOptimize(pedigree.MeanKinshipOf(living));
  }
}
BENCHMARK(MeanKinshipOfLiving)->Apply(Sizes);

void OneAgainstAll(benchmark::State& state) {
  const kinship::Pedigree pedigree = Made(state);
  const Against limit(state, 200);
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
  const Against limit(state, 1);
  for (auto _ : state) {
    BP_CHECK(pedigree.AddClutch({.sire = sire--, .dam = dam--}, 200).ok());
  }
}
BENCHMARK(OneNewClutch)->Apply(Sizes)->Args({1'000'000, 20})->Iterations(200);

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
