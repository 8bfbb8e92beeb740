// Verify and Rebuild: everything that follows from the commits, computed again.

#include <algorithm>
#include <map>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/registry/fold.h"
#include "client/replica/folding.h"
#include "client/replica/internal/bulk.h"
#include "client/replica/internal/map_source.h"
#include "client/replica/internal/rep.h"
#include "client/replica/replica.h"

namespace broodpact::replica {
namespace {

// Commits that are checked and folded at a time: one signature a chain vouches for a long run.
constexpr std::size_t kRangeCommits = 25'000;
constexpr std::size_t kSliceBytes = 1'048'576;
// So many faults are told one by one; a replica with more is rebuilt, not read about.
constexpr std::size_t kFaultsMax = 100;

using Heads = std::map<facts::ChainId, facts::ChainHead>;

// Reads the log from `before` on, about a range's worth.
absl::StatusOr<facts::Range> NextRange(const store::Store& database,
                                       const facts::LogPoint& before) {
  facts::Range range{.before = before, .after = before};
  while (range.arrivals.size() < kRangeCommits) {
    BP_ASSIGN_OR_RETURN(const store::LogSlice slice,
                        database.ReadLog(range.after.arrivals, kSliceBytes));
    if (slice.count == 0) break;
    BP_RETURN_IF_ERROR(facts::ReadOnto(range, slice.records));
  }
  return range;
}

// Folds a range and returns its verdicts; the changes stay in `state`.
absl::StatusOr<std::vector<registry::Verdict>> FoldRange(registry::State& state,
                                                         const facts::Range& range) {
  std::vector<registry::Verdict> verdicts;
  verdicts.reserve(range.arrivals.size());
  for (const facts::Arrived& arrived : range.arrivals) {
    verdicts.push_back(registry::Fold(state, arrived));
  }
  BP_RETURN_IF_ERROR(state.source_status());
  return verdicts;
}

// One pass over the log of a store, beside what the store says.
class Verifier {
 public:
  Verifier(const store::Store& database, const Hash& cooperative)
      : store_(database), cooperative_(cooperative), state_(source_) {
    result_.point = {.arrivals = 0, .log_hash = cooperative};
  }

  absl::StatusOr<Verified> Run() {
    BP_RETURN_IF_ERROR(ReadWholeLog());
    CompareTree();
    BP_RETURN_IF_ERROR(CompareHeads());
    BP_RETURN_IF_ERROR(CompareSubjects());
    BP_RETURN_IF_ERROR(CompareIndex());
    BP_ASSIGN_OR_RETURN(const std::vector<std::string> disk, store_.CheckDisk());
    for (const std::string& fault : disk) Fault(fault);
    BP_ASSIGN_OR_RETURN(result_.state_digest, store_.StateDigest());
    if (faults_ > kFaultsMax) {
      result_.faults.push_back(fmt::format("and {} more", faults_ - kFaultsMax));
    }
    return std::move(result_);
  }

 private:
  using Expected = std::map<registry::SubjectKey, std::string>::const_iterator;

  void Fault(std::string fault) {
    if (++faults_ <= kFaultsMax) result_.faults.push_back(std::move(fault));
  }

  // A log that does not hold is a fault, and ends the reading; the rest is compared up to there.
  absl::Status ReadWholeLog() {
    while (result_.point.arrivals < store_.point().arrivals) {
      const absl::StatusOr<facts::Range> range = NextRange(store_, result_.point);
      const absl::Status checked = range.ok() ? CheckRange(*range) : range.status();
      if (!checked.ok()) {
        Fault(fmt::format("the log does not hold after commit {}: {}", result_.point.arrivals,
                          std::string_view(checked.message().data(), checked.message().size())));
        return absl::OkStatus();
      }
      if (range->empty()) break;
      BP_ASSIGN_OR_RETURN(const std::vector<registry::Verdict> verdicts, FoldRange(state_, *range));
      source_.Store(state_.TakeChanges());
      state_.Shrink();
      BP_RETURN_IF_ERROR(GrowTree(*range));
      BP_RETURN_IF_ERROR(CompareVerdicts(result_.point.arrivals + 1, verdicts));
      result_.point = range->after;
      result_.commits = result_.point.arrivals;
    }
    if (result_.point != store_.point()) {
      Fault(fmt::format("the log ends at commit {}, and should at {}", result_.point.arrivals,
                        store_.point().arrivals));
    }
    return absl::OkStatus();
  }

  absl::Status CheckRange(const facts::Range& range) {
    const facts::RangeContext context{
        .head_of = [this](const facts::ChainId& chain) -> absl::StatusOr<facts::ChainHead> {
          const auto head = heads_.find(chain);
          return head == heads_.end() ? facts::ChainHead{} : head->second;
        },
        .key_of = [this](const DeviceId& id) -> absl::StatusOr<std::optional<PublicKey>> {
          BP_ASSIGN_OR_RETURN(const std::optional<registry::Device> device,
                              registry::Read<registry::Device>(source_, id));
          return device ? std::optional<PublicKey>(device->key) : std::nullopt;
        },
        .cooperative = cooperative_};
    BP_ASSIGN_OR_RETURN(const Heads after, facts::CheckRange(range, context));
    for (const auto& [chain, head] : after) heads_[chain] = head;
    return absl::OkStatus();
  }

  absl::Status CompareVerdicts(std::uint64_t first,
                               const std::vector<registry::Verdict>& verdicts) {
    if (verdicts.empty()) return absl::OkStatus();
    return store_.VisitArrivals(
        first, first + verdicts.size() - 1,
        [&](std::uint64_t arrival, const store::StoredArrival& stored) {
          if (stored.verdict != verdicts[arrival - first]) {
            Fault(
                fmt::format("the stored verdict of commit {} is not what the log gives", arrival));
          }
          return absl::OkStatus();
        });
  }

  absl::Status GrowTree(const facts::Range& range) {
    for (const facts::Arrived& arrived : range.arrivals) {
      BP_RETURN_IF_ERROR(
          tree_.Append(facts::LogLeafHash(arrived.commit.hash, facts::TimesOf(arrived))));
    }
    return absl::OkStatus();
  }

  // Damage of the tree is a fault too, and no reason to stop.
  void CompareTree() {
    const absl::StatusOr<Hash> stored = store_.TreeRootAt(tree_.size());
    if (!stored.ok() || *stored != tree_.Root()) {
      Fault(fmt::format("the stored tree over {} commits is not what the log gives", tree_.size()));
    }
  }

  absl::Status CompareHeads() {
    for (const auto& [chain, head] : heads_) {
      BP_ASSIGN_OR_RETURN(const facts::ChainHead stored, store_.HeadOf(chain));
      if (stored != head) {
        Fault(
            fmt::format("the stored head of the chain of device {}, incarnation {}, is not "
                        "what the log gives",
                        ToShortText(chain.device), chain.incarnation));
      }
    }
    return absl::OkStatus();
  }

  absl::Status CompareSubjects() {
    auto expected = source_.subjects().begin();
    for (std::uint8_t number = 1; number <= static_cast<std::uint8_t>(registry::kKindLast);
         ++number) {
      BP_RETURN_IF_ERROR(CompareKind(static_cast<registry::Kind>(number), expected));
    }
    for (; expected != source_.subjects().end(); ++expected) Missing(expected->first);
    return absl::OkStatus();
  }

  // Holds the stored subjects of a kind against those from `expected` on, and moves it past them.
  absl::Status CompareKind(registry::Kind kind, Expected& expected) {
    std::optional<IdBytes> after;
    while (true) {
      BP_ASSIGN_OR_RETURN(const std::vector<registry::StoredSubject> page,
                          store_.SubjectsOfKind(kind, after, kPageSubjects));
      for (const registry::StoredSubject& stored : page) CompareSubject(kind, stored, expected);
      if (page.size() < kPageSubjects) return absl::OkStatus();
      after = page.back().id;
    }
  }

  void CompareSubject(registry::Kind kind, const registry::StoredSubject& stored,
                      Expected& expected) {
    const auto end = source_.subjects().end();
    const registry::SubjectKey key{kind, stored.id};
    for (; expected != end && expected->first < key; ++expected) Missing(expected->first);
    ++result_.subjects;
    if (expected == end || expected->first != key) {
      Fault(fmt::format("subject {} of kind {} is stored, and does not follow from the log",
                        IdText(key.id), static_cast<unsigned>(kind)));
      return;
    }
    if (expected->second != stored.value) {
      Fault(fmt::format("the stored value of subject {} of kind {} is not what the log gives",
                        IdText(key.id), static_cast<unsigned>(kind)));
    }
    ++expected;
  }

  void Missing(const registry::SubjectKey& key) {
    Fault(fmt::format("subject {} of kind {} follows from the log, and is not stored",
                      IdText(key.id), static_cast<unsigned>(key.kind)));
  }

  absl::Status CompareIndex() {
    BP_ASSIGN_OR_RETURN(const std::vector<std::string> stored,
                        store_.IndexEntries("", source_.entries().size() + kPageSubjects));
    if (!std::ranges::equal(stored, source_.entries())) {
      Fault(fmt::format("the index has {} entries that are not those that the log gives ({})",
                        stored.size(), source_.entries().size()));
    }
    return absl::OkStatus();
  }

  const store::Store& store_;
  Hash cooperative_;
  MapSource source_;
  registry::State state_;
  Heads heads_;
  MerkleFrontier tree_;
  Verified result_;
  std::size_t faults_ = 0;
};

}  // namespace

absl::StatusOr<Verified> Replica::Verify() {
  BP_RETURN_IF_ERROR(rep_->store->CheckHistory());
  if (IsFoldedOtherwise(*rep_->store)) {
    return Fail(absl::StatusCode::kFailedPrecondition, "FOLD_OTHER",
                "the state here was made by the rules of another version of this program, which is "
                "no damage; `broodpact rebuild`, or the next command that records something, makes "
                "it anew: then verify again");
  }
  BP_ASSIGN_OR_RETURN(Verified verified, Verifier(*rep_->store, cooperative()).Run());
  for (const Undelivered& one : rep_->undelivered) {
    // Of a run that a server refused only the last one is signed; it vouches for those before it.
    if (one.signed_commit.signature == Signature{}) continue;
    BP_ASSIGN_OR_RETURN(const std::optional<PublicKey> key,
                        one.commit.header.device == DeviceOf(device_key())
                            ? std::optional<PublicKey>(device_key())
                            : rep_->KeyOf(one.commit.header.device));
    if (!key || !facts::VerifyCommit(*key, one.commit.hash, one.signed_commit.signature)) {
      verified.faults.push_back(fmt::format("the signature of undelivered commit {} does not hold",
                                            one.commit.header.seq));
    }
  }
  return verified;
}

absl::StatusOr<Verified> Replica::Rebuild() {
  BP_RETURN_IF_ERROR(rep_->CheckWritable());
  BP_RETURN_IF_ERROR(rep_->store->CheckHistory());
  BP_RETURN_IF_ERROR(rep_->store->RegrowTree());
  BP_RETURN_IF_ERROR(rep_->store->ClearFold());
  BP_RETURN_IF_ERROR(FoldRest(*rep_->store));
  // The ledger remembers subjects of the fold that is gone.
  rep_->ledger = std::make_unique<Ledger>(*rep_->store);
  BP_RETURN_IF_ERROR(rep_->Refold());
  return Verify();
}

bool IsFoldedOtherwise(const store::Store& store) {
  return store.fold_version() != registry::kFoldVersion;
}

absl::Status FoldRest(store::Store& store) {
  registry::State state(store);
  // The log's hashes are Verify's business; here it only has to be read in order.
  facts::LogPoint point{.arrivals = store.folded(), .log_hash = {}};
  while (point.arrivals < store.point().arrivals) {
    BP_ASSIGN_OR_RETURN(const facts::Range range, NextRange(store, point));
    if (range.empty()) break;
    BP_ASSIGN_OR_RETURN(const std::vector<registry::Verdict> verdicts, FoldRange(state, range));
    BP_RETURN_IF_ERROR(store.AppendFold(range.before.arrivals + 1, verdicts, state.TakeChanges()));
    state.Shrink();
    point = range.after;
  }
  return store.Flush();
}

absl::Status FoldByTheseRules(store::Store& store) {
  if (IsFoldedOtherwise(store) && store.CheckHistory().ok()) {
    BP_RETURN_IF_ERROR(store.ClearFold());
  }
  return store.folded() < store.point().arrivals ? FoldRest(store) : absl::OkStatus();
}

}  // namespace broodpact::replica
