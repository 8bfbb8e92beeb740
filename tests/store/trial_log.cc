#include "tests/store/trial_log.h"

#include <atomic>
#include <set>
#include <utility>

#include "gtest/gtest.h"
#include <fmt/format.h>

#include "client/base/check.h"
#include <unistd.h>

namespace broodpact::store {

TempFolder::TempFolder() {
  static std::atomic<int> count = 0;
  path_ = std::filesystem::path(testing::TempDir()) /
          fmt::format("broodpact-store-{}-{}", getpid(), ++count);
  std::filesystem::remove_all(path_);
  std::filesystem::create_directories(path_);
}

TempFolder::~TempFolder() {
  std::error_code error;
  std::filesystem::remove_all(path_, error);
}

TrialLog::TrialLog(const TrialShape& shape) : shape_(shape), random_(shape.seed) {}

std::uint32_t TrialLog::Below(std::uint32_t bound) {
  return static_cast<std::uint32_t>(random_() % bound);
}

void TrialLog::AddArrival(facts::Range& range, const facts::ChainId& chain, bool signs) {
  std::string bytes(1 + Below(shape_.commit_bytes_max), '\0');
  for (char& byte : bytes) byte = static_cast<char>(Below(256));

  facts::ChainHead& head = heads_[chain];
  facts::Arrived arrived;
  arrived.commit.hash = Sha256(bytes);
  arrived.commit.header.device = chain.device;
  arrived.commit.header.incarnation = chain.incarnation;
  arrived.commit.header.seq = head.seq + 1;
  arrived.commit.header.prev = head.hash;
  arrived.arrival = point_.arrivals + 1;
  arrived.time_ms = 1'700'000'000'000 + static_cast<std::int64_t>(point_.arrivals);
  // Some had arrived before, in a log that was lost.
  if (point_.arrivals % 5 == 3) arrived.first_time_ms = arrived.time_ms - 1'000'000;
  head = {.seq = head.seq + 1, .hash = arrived.commit.hash};

  std::optional<Signature> signature;
  if (signs) {
    signature.emplace();
    signature->fill(static_cast<std::uint8_t>(Below(256)));
  }
  registry::Verdict verdict;
  if (Below(8) == 0) {
    verdict = {.kind = registry::VerdictKind::kSuperseded,
               .reason = "TOKEN_SPENT",
               .message = "the male was promised to tomas before",
               .winner_arrival = Below(100)};
  }

  point_ = {.arrivals = point_.arrivals + 1,
            .log_hash =
                facts::NextLogHash(point_.log_hash, arrived.commit.hash, facts::TimesOf(arrived))};
  arrivals_.push_back({.chain = chain,
                       .seq = head.seq,
                       .stored = {.bytes = bytes,
                                  .time_ms = arrived.time_ms,
                                  .first_time_ms = arrived.first_time_ms,
                                  .signature = signature,
                                  .verdict = verdict}});
  range.arrivals.push_back(std::move(arrived));
  range.bytes.push_back(std::move(bytes));
  range.signatures.push_back(signature);
  range.log_hashes.push_back(point_.log_hash);
}

facts::Range TrialLog::NextRange(std::size_t count) {
  facts::Range range;
  range.before = point_;
  std::set<facts::ChainId> open;
  while (range.arrivals.size() < count) {
    facts::ChainId chain;
    chain.device.bytes[0] = static_cast<std::uint8_t>(1 + Below(shape_.chains));
    chain.incarnation = 1 + Below(2);
    const bool signs = Below(shape_.run_max) == 0;
    AddArrival(range, chain, signs);
    if (signs) {
      open.erase(chain);
    } else {
      open.insert(chain);
    }
  }
  for (const facts::ChainId& chain : open) AddArrival(range, chain, true);
  range.after = point_;
  return range;
}

Batch TrialLog::BatchOf(const facts::Range& range) const {
  Batch batch{.range = range};
  for (const facts::Arrived& arrived : range.arrivals) {
    batch.verdicts.push_back(arrivals_[arrived.arrival - 1].stored.verdict);
    const facts::ChainId chain = facts::ChainOf(arrived.commit.header);
    batch.heads[chain] = facts::HeadAfter(arrived.commit);
  }
  return batch;
}

absl::Status TrialLog::AppendTo(Store& store, std::size_t count, Durability durability) {
  const facts::Range range = NextRange(count);
  Batch batch = BatchOf(range);
  batch.durability = durability;
  return store.Append(batch);
}

bool Same(const StoredArrival& a, const StoredArrival& b) {
  return a.bytes == b.bytes && a.time_ms == b.time_ms && a.first_time_ms == b.first_time_ms &&
         a.signature == b.signature && a.verdict == b.verdict;
}

namespace {

// An empty replica of a log whose hash begins with zeros, made once: to make one costs some thirty
// syncs, to copy one none.
const std::filesystem::path& EmptyReplica() {
  static const TempFolder folder;
  static const std::filesystem::path replica = [] {
    const auto store = Store::Open(folder.path() / "empty", Access::kReadWrite);
    if (!store.ok()) ADD_FAILURE() << store.status();
    BP_CHECK(store.ok() && (*store)->InitLog(Hash{}).ok());
    return folder.path() / "empty";
  }();
  return replica;
}

}  // namespace

std::unique_ptr<Store> OpenForWriting(const std::filesystem::path& folder) {
  if (!std::filesystem::exists(folder / "db")) {
    std::filesystem::copy(EmptyReplica(), folder, std::filesystem::copy_options::recursive);
  }
  auto store = Store::Open(folder, Access::kReadWrite);
  if (!store.ok()) ADD_FAILURE() << store.status();
  BP_CHECK(store.ok());
  return *std::move(store);
}

}  // namespace broodpact::store
