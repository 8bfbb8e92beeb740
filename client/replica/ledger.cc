#include "client/replica/ledger.h"

#include <future>
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

// The store as the state reads it. Its index is as it was before the range that is being stored, so
// that the answers do not depend on how far that has come: the state knows itself what it has
// handed out.
class Ledger::Base final : public registry::Source {
 public:
  explicit Base(const store::Store& store) : store_(store) {}

  // Holds on to the index as it is now, until it is thawed.
  void Freeze() { frozen_ = store_.ForFold(); }
  void Thaw() { frozen_.reset(); }
  bool is_frozen() const { return frozen_ != nullptr; }

  absl::StatusOr<std::optional<std::string>> Subject(
      const registry::SubjectKey& key) const override {
    return present().Subject(key);
  }
  absl::StatusOr<std::vector<std::string>> IndexEntries(std::string_view prefix,
                                                        std::size_t count_max) const override {
    return present().IndexEntries(prefix, count_max);
  }
  absl::StatusOr<std::vector<registry::StoredSubject>> SubjectsOfKind(
      registry::Kind kind, std::optional<IdBytes> after, std::size_t count_max) const override {
    return present().SubjectsOfKind(kind, after, count_max);
  }

 private:
  const registry::Source& present() const {
    if (frozen_ != nullptr) return *frozen_;
    return store_;
  }

  const store::Store& store_;
  std::unique_ptr<registry::Source> frozen_;
};

// A range that is being stored: what has to be known of it meanwhile.
struct Ledger::Ahead {
  facts::LogPoint after;
  std::map<facts::ChainId, facts::ChainHead> heads;
  std::future<absl::Status> stored;
};

Ledger::Ledger(store::Store& store) : store_(store), base_(std::make_unique<Base>(store)) {
  Restart();
  // A value that cannot be read shows as no cooperative; the first range is then refused.
  const std::optional<std::string> stored =
      store_.Meta(store::kCooperativeName).value_or(std::optional<std::string>());
  if (!stored) return;
  cooperative_ = HashOfBytes(*stored).value_or(Hash{});
}

Ledger::~Ledger() {
  // What is on its way is stored or not, as after a crash.
  Settle().IgnoreError();
}

void Ledger::Restart() {
  BP_CHECK(ahead_ == nullptr);
  base_->Thaw();
  state_ = std::make_unique<registry::State>(*base_);
}

absl::Status Ledger::SetCooperative(const Hash& cooperative) {
  if (cooperative_ == cooperative) return absl::OkStatus();
  BP_CHECK(cooperative_ == Hash{});
  BP_RETURN_IF_ERROR(store_.InitLog(cooperative));
  cooperative_ = cooperative;
  return absl::OkStatus();
}

facts::LogPoint Ledger::point() const {
  return ahead_ == nullptr ? store_.point() : ahead_->after;
}

absl::StatusOr<facts::ChainHead> Ledger::HeadOf(const facts::ChainId& chain) const {
  if (ahead_ != nullptr) {
    const auto head = ahead_->heads.find(chain);
    if (head != ahead_->heads.end()) return head->second;
  }
  return store_.HeadOf(chain);
}

facts::RangeContext Ledger::Context() {
  return {.head_of = [this](const facts::ChainId& chain) { return HeadOf(chain); },
          .key_of = [this](const DeviceId& device) { return KeyOf(device); },
          .cooperative = cooperative_};
}

absl::StatusOr<std::optional<PublicKey>> Ledger::KeyOf(const DeviceId& device) {
  const auto* known = state_->Find<registry::Device>(device);
  if (absl::Status status = state_->source_status(); !status.ok()) {
    Settle().IgnoreError();
    Restart();
    return status;
  }
  if (known == nullptr) return std::optional<PublicKey>();
  return std::optional<PublicKey>(known->key);
}

absl::StatusOr<std::vector<registry::Verdict>> Ledger::Append(const facts::Range& range,
                                                              std::optional<facts::ChainId> own,
                                                              store::Durability durability) {
  BP_RETURN_IF_ERROR(Settle());
  BP_ASSIGN_OR_RETURN(auto heads, facts::CheckRange(range, Context()));
  return AppendChecked(range, std::move(heads), own, durability);
}

absl::StatusOr<std::vector<registry::Verdict>> Ledger::AppendChecked(
    const facts::Range& range, std::map<facts::ChainId, facts::ChainHead> heads,
    std::optional<facts::ChainId> own, store::Durability durability) {
  BP_RETURN_IF_ERROR(Settle());
  store::Batch batch{.range = range, .heads = std::move(heads), .durability = durability};
  if (own.has_value()) batch.delivered.push_back(*own);
  if (absl::Status status = FoldAndStore(batch); !status.ok()) {
    // Whatever was folded and not stored goes with the state that holds it.
    Restart();
    return status;
  }
  return std::move(batch.verdicts);
}

absl::StatusOr<std::vector<registry::Verdict>> Ledger::AppendAhead(
    std::shared_ptr<const facts::Range> range, std::optional<facts::ChainId> own) {
  if (state_->cached() > kCachedSubjectsMax) BP_RETURN_IF_ERROR(Settle());
  BoundCache();
  auto batch = std::make_unique<store::Batch>(store::Batch{.range = *range});
  BP_ASSIGN_OR_RETURN(batch->heads, facts::CheckRange(*range, Context()));
  if (own.has_value()) batch->delivered.push_back(*own);
  absl::Status status = Fold(*batch);
  if (status.ok()) batch->changes = state_->TakeChangesAhead();
  if (absl::Status settled = Settle(); status.ok()) status = settled;
  if (!status.ok()) {
    Restart();
    return status;
  }
  std::vector<registry::Verdict> verdicts = batch->verdicts;
  StoreAhead(std::move(range), std::move(batch));
  return verdicts;
}

// The range before is stored.
void Ledger::StoreAhead(std::shared_ptr<const facts::Range> range,
                        std::unique_ptr<store::Batch> batch) {
  base_->Freeze();
  ahead_ =
      std::make_unique<Ahead>(Ahead{.after = range->after, .heads = batch->heads, .stored = {}});
  ahead_->stored = std::async(std::launch::async, [&store = store_, range = std::move(range),
                                                   batch = std::move(batch)]() mutable {
    // Ends here, with its hundred thousand small parts, and not on the thread that folds.
    const std::shared_ptr<const facts::Range> own_range = std::move(range);
    const std::unique_ptr<const store::Batch> own_batch = std::move(batch);
    return store.Append(*own_batch);
  });
}

absl::Status Ledger::Settle() {
  if (ahead_ == nullptr) return absl::OkStatus();
  absl::Status status = ahead_->stored.get();
  ahead_.reset();
  base_->Thaw();
  state_->Settle();
  if (!status.ok()) Restart();
  return status;
}

// The store would refuse the range too, but only after all the work.
absl::Status Ledger::CheckFollows(const facts::Range& range) const {
  const facts::LogPoint present = point();
  if (range.empty() || range.before == present) return absl::OkStatus();
  return Fail(absl::StatusCode::kAborted, "LOG_MOVED",
              fmt::format("the log has {} arrivals, and this range begins after {}; read it again",
                          present.arrivals, range.before.arrivals));
}

absl::Status Ledger::Fold(store::Batch& batch) {
  BP_RETURN_IF_ERROR(CheckFollows(batch.range));
  // One commit asks a question or two; many ask as many as pay for the freezing.
  if (batch.range.arrivals.size() > 1 && !base_->is_frozen()) base_->Freeze();
  batch.verdicts.reserve(batch.range.arrivals.size());
  for (const facts::Arrived& arrived : batch.range.arrivals) {
    batch.verdicts.push_back(registry::Fold(*state_, arrived));
    BP_RETURN_IF_ERROR(state_->source_status());
  }
  return absl::OkStatus();
}

absl::Status Ledger::FoldAndStore(store::Batch& batch) {
  BP_RETURN_IF_ERROR(Fold(batch));
  batch.changes = state_->TakeChanges();
  base_->Thaw();
  BP_RETURN_IF_ERROR(store_.Append(batch));
  BoundCache();
  return absl::OkStatus();
}

void Ledger::BoundCache() {
  if (state_->cached() > kCachedSubjectsMax) state_->Shrink();
}

}  // namespace broodpact::replica
