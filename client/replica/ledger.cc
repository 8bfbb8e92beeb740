#include "client/replica/ledger.h"

#include <utility>

#include <fmt/format.h>

#include "client/base/check.h"
#include "client/base/status.h"
#include "client/registry/fold.h"

namespace broodpact::replica {
namespace {

// Subjects that the state keeps in memory between batches: some 200 MB at most, and all that a
// busy server touches in a while.
constexpr std::size_t kCachedSubjectsMax = 200'000;

}  // namespace

Ledger::Ledger(store::Store& store) : store_(store) {
  Restart();
  // A value that cannot be read shows as no cooperative; the first range is then refused.
  const auto stored = store_.Meta(store::kCooperativeName);
  if (!stored.ok() || !stored->has_value()) return;
  cooperative_ = HashOfBytes(**stored).value_or(Hash{});
}

Ledger::~Ledger() = default;

void Ledger::Restart() {
  state_ = std::make_unique<registry::State>(store_);
}

absl::Status Ledger::SetCooperative(const Hash& cooperative) {
  if (cooperative_ == cooperative) return absl::OkStatus();
  BP_CHECK(cooperative_ == Hash{});
  BP_RETURN_IF_ERROR(store_.InitLog(cooperative));
  cooperative_ = cooperative;
  return absl::OkStatus();
}

facts::RangeContext Ledger::Context() {
  return {.head_of = [this](const facts::ChainId& chain) { return store_.HeadOf(chain); },
          .key_of = [this](const DeviceId& device) { return KeyOf(device); },
          .cooperative = cooperative_};
}

absl::StatusOr<std::optional<PublicKey>> Ledger::KeyOf(const DeviceId& device) {
  const auto* known = state_->Find<registry::Device>(device);
  if (absl::Status status = state_->source_status(); !status.ok()) {
    Restart();
    return status;
  }
  if (known == nullptr) return std::optional<PublicKey>();
  return std::optional<PublicKey>(known->key);
}

absl::StatusOr<std::vector<registry::Verdict>> Ledger::Append(const facts::Range& range,
                                                              std::optional<facts::ChainId> own,
                                                              store::Durability durability) {
  BP_ASSIGN_OR_RETURN(auto heads, facts::CheckRange(range, Context()));
  return AppendChecked(range, std::move(heads), own, durability);
}

absl::StatusOr<std::vector<registry::Verdict>> Ledger::AppendChecked(
    const facts::Range& range, std::map<facts::ChainId, facts::ChainHead> heads,
    std::optional<facts::ChainId> own, store::Durability durability) {
  auto verdicts = FoldAndStore(range, std::move(heads), own, durability);
  // Whatever was folded and not stored goes with the state that holds it.
  if (!verdicts.ok()) Restart();
  return verdicts;
}

absl::StatusOr<std::vector<registry::Verdict>> Ledger::FoldAndStore(
    const facts::Range& range, std::map<facts::ChainId, facts::ChainHead> heads,
    std::optional<facts::ChainId> own, store::Durability durability) {
  // The store would refuse the range too, but only after all the work.
  if (!range.empty() && range.before != store_.point()) {
    return Fail(
        absl::StatusCode::kAborted, "LOG_MOVED",
        fmt::format("the log has {} arrivals, and this range begins after {}; read it again",
                    store_.point().arrivals, range.before.arrivals));
  }
  store::Batch batch{.range = range, .heads = std::move(heads), .durability = durability};
  batch.verdicts.reserve(range.arrivals.size());
  for (const facts::Arrived& arrived : range.arrivals) {
    batch.verdicts.push_back(registry::Fold(*state_, arrived));
    BP_RETURN_IF_ERROR(state_->source_status());
  }
  batch.changes = state_->TakeChanges();
  if (own.has_value()) batch.delivered.push_back(*own);
  BP_RETURN_IF_ERROR(store_.Append(batch));
  if (state_->cached() > kCachedSubjectsMax) state_->Shrink();
  return std::move(batch.verdicts);
}

}  // namespace broodpact::replica
