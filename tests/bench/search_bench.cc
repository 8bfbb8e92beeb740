// What searches and a plan cost in a replica of many animals, within the process: the median of
// many calls, the store open and its files in the cache of the system.
//
//   search_bench [animals]      (default: 50,000; the figure is for 1,000,000)
//
// The registry is made of commits that enter fifty animals each, so that a million of them are
// stored in minutes: what a search costs depends on the animals, and not on how they came in. Each
// line ends with the ratio to what a search may take, 20 ms; below 1 it is met.

#include <algorithm>
#include <chrono>
#include <cstdlib>
#include <filesystem>
#include <functional>
#include <string>
#include <utility>
#include <vector>

#include <fmt/core.h>

#include "client/base/check.h"
#include "client/facts/arrival.h"
#include "client/facts/range.h"
#include "client/replica/ledger.h"
#include "client/replica/view.h"
#include "client/store/store.h"
#include "tests/bench/generator.h"

namespace broodpact::bench {
namespace {

constexpr std::size_t kRangeCommits = 20'000;
constexpr int kCalls = 50;
constexpr double kLimitMillis = 20;
constexpr std::uint32_t kAnimalsAnEntry = 50;  // a commit has 64 statements at most
// A day after all that the generator plays.
constexpr Day kToday{20'454 + 10};

// Checks, folds and stores a whole log in ranges, each ending with a signed record.
void StoreAll(const GeneratedLog& log, replica::Ledger& ledger) {
  const std::string records = log.founding + log.records;
  facts::ArrivalReader reader(records);
  std::string part;
  std::size_t commits = 0;
  while (!reader.at_end()) {
    const auto arrival = reader.Next();
    BP_CHECK(arrival.ok());
    facts::AppendArrival(part, *arrival);
    if ((++commits < kRangeCommits || !arrival->signature) && !reader.at_end()) continue;
    facts::Range range{.before = ledger.point()};
    if (range.before.arrivals == 0) range.before.log_hash = log.cooperative;
    BP_CHECK(facts::ReadOnto(range, part).ok());
    BP_CHECK(ledger.Append(range, std::nullopt, store::Durability::kWritten).ok());
    part.clear();
    commits = 0;
  }
}

void Time(const std::string& what, const std::function<bool()>& call) {
  std::vector<double> millis;
  for (int i = 0; i < kCalls; ++i) {
    const auto start = std::chrono::steady_clock::now();
    BP_CHECK(call());
    millis.push_back(
        std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - start)
            .count());
  }
  std::sort(millis.begin(), millis.end());
  fmt::print("{:<40} median {:8.2f} ms, first tenth {:8.2f}, last tenth {:8.2f}, ratio {:.2f}\n",
             what, millis[kCalls / 2], millis[kCalls / 10], millis[kCalls - 1 - kCalls / 10],
             millis[kCalls / 2] / kLimitMillis);
}

}  // namespace
}  // namespace broodpact::bench

int main(int argc, char** argv) {
  using namespace broodpact;
  const std::uint64_t animals = argc > 1 ? std::strtoull(argv[1], nullptr, 10) : 50'000;
  constexpr std::uint32_t kKeepers = 1'000;
  // Two commits a keeper who joins, and one that follows life for each that enters animals.
  const bench::GeneratedLog log =
      bench::Generate({.commits = 2 * kKeepers + 2 * animals / bench::kAnimalsAnEntry,
                       .keepers = kKeepers,
                       .entries_per_10000 = 5'000,
                       .animals_an_entry = bench::kAnimalsAnEntry});
  const std::filesystem::path folder =
      std::filesystem::temp_directory_path() / "broodpact-search-bench";
  std::filesystem::remove_all(folder);
  {
    auto store = store::Store::Open(folder, store::Access::kReadWrite);
    BP_CHECK(store.ok());
    replica::Ledger ledger(**store);
    BP_CHECK(ledger.SetCooperative(log.cooperative).ok());
    bench::StoreAll(log, ledger);
    BP_CHECK((*store)->Flush().ok());
  }
  {
    // As a keeper's command finds it: nothing is being merged meanwhile.
    const auto store = store::Store::Open(folder, store::Access::kReadOnly);
    BP_CHECK(store.ok());
    fmt::print("{} commits, {} animals\n", log.arrivals, log.animals);
    const replica::View view(**store, KeeperId{}, nullptr);
    const auto female = view.AnimalNamed(log.some_female);
    const auto group = view.GroupNamed(log.busiest_group);
    BP_CHECK(female.ok() && group.ok());
    bench::Time("find male for a female",
                [&] { return view.FindMales({.female = *female, .day = bench::kToday}).ok(); });
    bench::Time("find male of a group",
                [&] { return view.FindMales({.group = *group, .day = bench::kToday}).ok(); });
    bench::Time("find female of a group",
                [&] { return view.FindFemales({.group = *group, .day = bench::kToday}).ok(); });
  }
  std::filesystem::remove_all(folder);
  return 0;
}
