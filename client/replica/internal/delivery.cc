#include "client/replica/internal/delivery.h"

#include <cstddef>
#include <utility>

#include "client/facts/arrival.h"
#include "client/sync/session.h"

namespace broodpact::replica {
namespace {

bool IsSigned(const Replica::Undelivered& one) {
  return one.signed_commit.signature != Signature{};
}

// The run that begins at `first`: up to the next commit of its chain that is signed, and none if
// there is no such. What is taken is marked.
WaitingRun TakeRun(const std::vector<Replica::Undelivered>& waiting, std::size_t first,
                   std::vector<bool>& taken) {
  const facts::ChainId chain = facts::ChainOf(waiting[first].commit.header);
  WaitingRun run;
  for (std::size_t i = first; i < waiting.size(); ++i) {
    if (facts::ChainOf(waiting[i].commit.header) != chain) continue;
    taken[i] = true;
    run.push_back(&waiting[i]);
    if (IsSigned(waiting[i])) return run;
  }
  return {};
}

}  // namespace

std::vector<WaitingRun> RunsOf(const std::vector<Replica::Undelivered>& waiting) {
  std::vector<WaitingRun> runs;
  std::vector<bool> taken(waiting.size(), false);
  for (std::size_t i = 0; i < waiting.size(); ++i) {
    if (taken[i]) continue;
    WaitingRun run = TakeRun(waiting, i, taken);
    if (!run.empty()) runs.push_back(std::move(run));
  }
  return runs;
}

std::vector<sync::LogPart> PartsOf(const std::vector<Replica::Undelivered>& waiting) {
  std::vector<sync::LogPart> parts;
  for (const WaitingRun& run : RunsOf(waiting)) {
    const bool full = parts.empty() || parts.back().records.size() >= sync::kChunkBytesTarget;
    if (full) parts.emplace_back();
    for (const Replica::Undelivered* one : run) {
      facts::ArrivalView view{.commit = one->signed_commit.bytes};
      if (IsSigned(*one)) view.signature = one->signed_commit.signature;
      facts::AppendArrival(parts.back().records, view);
    }
  }
  return parts;
}

}  // namespace broodpact::replica
