// A house's server that is put back: what it says of what it lost.

#include <algorithm>
#include <utility>

#include "client/base/status.h"
#include "client/facts/arrival.h"
#include "client/sync/epoch.h"
#include "client/sync/first_times.h"
#include "client/sync/recovery.h"
#include "tests/replica/testing/demand.h"
#include "tests/replica/testing/house.h"

namespace broodpact::testing {
namespace {

constexpr std::size_t kAllBytes = 1'000'000'000;

// The records of a log after `before` arrivals, up to so many.
std::string RecordsOf(const store::Store& log, std::uint64_t before, std::uint64_t arrivals) {
  const store::LogSlice slice = Demand(log.ReadLog(before, kAllBytes));
  return Demand(facts::FirstRecords(slice.records, arrivals - before));
}

}  // namespace

class HouseRecovery final : public sync::Recovery {
 public:
  explicit HouseRecovery(House& house) : house_(house) {}

  absl::StatusOr<sync::Comparison> Compare(const std::vector<facts::LogPoint>& places,
                                           const sync::Remembered&) override {
    if (house_.on_comparison) house_.on_comparison();
    BP_RETURN_IF_ERROR(house_.answer_to_comparison);
    const auto other =
        std::ranges::find_if(places, [&](const facts::LogPoint& one) { return !IsOurs(one); });
    sync::Comparison comparison{.matching = static_cast<std::size_t>(other - places.begin()),
                                .head = house_.HeadAt(house_.server().point().arrivals),
                                .epochs = house_.epochs_,
                                .matching_head = {}};
    if (comparison.matching > 0) {
      comparison.matching_head = house_.HeadAt(places[comparison.matching - 1].arrivals);
    }
    return comparison;
  }

  absl::StatusOr<sync::Epochs> ReportLoss(const sync::Head& head,
                                          const facts::LogPoint& common) override {
    if (house_.on_loss) house_.on_loss();
    BP_RETURN_IF_ERROR(house_.answer_to_loss);
    if (IsOurs(head.point)) return house_.epochs_;  // nothing of it is lost
    house_.epochs_.push_back(sync::SignEpoch(house_.log_key_, house_.cooperative(),
                                             {.epoch = head.epoch + 1,
                                              .common = common,
                                              .lost_arrivals = head.point.arrivals,
                                              .time_ms = house_.clock_.NowMillis()}));
    return house_.epochs_;
  }

  absl::Status GiveBack(const sync::LogPart& part, const sync::Head&,
                        const std::vector<Hash>&) override {
    if (house_.takes_back) {
      house_.Append(part.records);
      return absl::OkStatus();
    }
    return Fail(absl::StatusCode::kInvalidArgument, "HEAD_OTHER", "nothing is taken back");
  }

  absl::StatusOr<sync::Redelivery> DeliverAgain(
      const sync::LogPart& part, const std::optional<sync::FirstTimes>& times) override {
    if (times && house_.again == House::Again::kAsNew) {
      return Fail(absl::StatusCode::kInvalidArgument, "HEAD_OTHER", "of no server here");
    }
    std::uint64_t proven = 0;
    if (times) {
      BP_ASSIGN_OR_RETURN(proven,
                          sync::CheckFirstTimes(part.arrivals_before, part.records, *times));
    }
    sync::Redelivery redelivery;
    std::string records;
    std::uint32_t place = 0;
    for (facts::ArrivalReader reader(part.records); !reader.at_end(); ++place) {
      BP_ASSIGN_OR_RETURN(facts::ArrivalView arrival, reader.Next());
      if (house_.again == House::Again::kByAuthors) {
        ++redelivery.refused;
        redelivery.refused_at.push_back(place);
      } else if (HasArrived(arrival)) {
        ++redelivery.known;
      } else {
        ++redelivery.arrived;
        const std::int64_t first_ms = facts::FirstTimeOf(arrival);
        arrival.first_time_ms = place < proven ? std::optional(first_ms) : std::nullopt;
        arrival.time_ms = house_.clock_.NowMillis();
        facts::AppendArrival(records, arrival);
      }
    }
    if (!records.empty()) house_.Append(records);
    return redelivery;
  }

 private:
  bool HasArrived(const facts::ArrivalView& arrival) const {
    const facts::Commit commit = Demand(facts::ParseCommit(arrival.commit));
    const auto head = Demand(house_.server().HeadOf(facts::ChainOf(commit.header)));
    return commit.header.seq <= head.seq;
  }

  bool IsOurs(const facts::LogPoint& place) const {
    if (place.arrivals > house_.server().point().arrivals) return false;
    return Demand(house_.server().LogHashAt(place.arrivals)) == place.log_hash;
  }

  House& house_;
};

std::unique_ptr<sync::Recovery> House::OpenRecovery() {
  return std::make_unique<HouseRecovery>(*this);
}

void House::Lose(std::uint64_t arrivals) {
  const Hash founded = cooperative();
  const std::string records = RecordsOf(*server_, 0, arrivals);
  ledger_.reset();
  lost_ = std::move(server_);
  server_ = Demand(store::Store::Open(folder_.path() / ("backup " + std::to_string(++losses_)),
                                      store::Access::kReadWrite));
  ledger_ = std::make_unique<replica::Ledger>(*server_);
  Demand(ledger_->SetCooperative(founded));
  Append(records);
}

void House::Regain(std::uint64_t arrivals) {
  const std::uint64_t before = server_->point().arrivals;
  if (before < arrivals) Append(RecordsOf(*lost_, before, arrivals));
}

}  // namespace broodpact::testing
