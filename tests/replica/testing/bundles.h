#pragma once

// Bundles as somebody writes them who means no good, or has much to tell.

#include <cstdint>
#include <ios>
#include <sstream>
#include <string>
#include <utility>
#include <vector>

#include "client/facts/arrival.h"
#include "client/replica/replica.h"
#include "client/sync/bundle.h"
#include "tests/replica/testing/demand.h"

namespace broodpact::testing {

// What is read from it is another file from the first time on that a place in it is looked for.
class ExchangedFile : public std::stringbuf {
 public:
  ExchangedFile(const std::string& first, std::string second)
      : std::stringbuf(first, std::ios::in), second_(std::move(second)) {}

 protected:
  pos_type seekpos(pos_type place, std::ios::openmode mode) override {
    str(second_);
    return std::stringbuf::seekpos(place, mode);
  }

 private:
  std::string second_;
};

// A part of a replica's log, each arrival so much later than it was.
inline sync::BundleLog ArrivalsOf(replica::Replica& replica, std::uint64_t first,
                                  std::uint64_t last, std::int64_t later_ms = 0) {
  sync::BundleLog log{.arrivals_before = first - 1};
  Demand(replica.store().VisitArrivals(
      first, last, [&](std::uint64_t, const store::StoredArrival& stored) {
        facts::AppendArrival(log.records, {.commit = stored.bytes,
                                           .time_ms = stored.time_ms + later_ms,
                                           .signature = stored.signature});
        return absl::OkStatus();
      }));
  return log;
}

// A replica's last head with these parts of a log.
inline std::string BundleWith(replica::Replica& replica, const std::vector<sync::BundleLog>& logs) {
  std::ostringstream out;
  sync::BundleWriter writer(out, {.cooperative = replica.cooperative()});
  writer.Add(Demand(replica.LastHead()).value());
  for (const sync::BundleLog& log : logs) writer.Add(log);
  writer.Finish();
  return out.str();
}

// What somebody has who knows lives of one device, so many.
inline sync::BundleFrontier FrontierOf(std::uint32_t chains) {
  sync::BundleFrontier frontier{.point = {.arrivals = chains, .log_hash = Sha256("log")}};
  for (std::uint32_t i = 1; i <= chains; ++i) {
    frontier.chains.push_back({{.incarnation = i}, {.seq = 1, .hash = Sha256("head")}});
  }
  return frontier;
}

}  // namespace broodpact::testing
