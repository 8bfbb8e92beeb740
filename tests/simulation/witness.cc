#include "tests/simulation/witness.h"

#include <utility>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/facts/arrival.h"
#include "client/facts/commit.h"

namespace broodpact::simulation {
namespace {

// What has to be in the log for a commit to be there.
Hash StandsFor(const facts::Commit& commit) {
  if (const auto* again = std::get_if<facts::Restatement>(&commit.statements.front())) {
    return Sha256(again->commit);
  }
  return commit.hash;
}

}  // namespace

void Witness::NoteKept(const std::string& keeper, const replica::Replica& replica) {
  const DeviceId own = DeviceOf(replica.device_key());
  for (const replica::Replica::Undelivered& one : replica.undelivered()) {
    if (one.commit.header.device != own) continue;
    kept_.try_emplace(StandsFor(one.commit),
                      Kept{.keeper = keeper,
                           .what = fmt::format("commit {}.{} of {}", one.commit.header.incarnation,
                                               one.commit.header.seq, keeper),
                           .device = own});
  }
}

void Witness::Excuse(const std::string& keeper, const store::Store& log) {
  const std::set<Hash> arrived = CommitsIn(log);
  std::erase_if(kept_, [&](const auto& one) {
    return one.second.keeper == keeper && !arrived.contains(one.first);
  });
}

void Witness::ExcuseAllBut(const std::set<Hash>& left) {
  std::erase_if(kept_, [&](const auto& one) { return !left.contains(one.first); });
}

void Witness::ExcuseOf(const std::set<Hash>& had, const std::set<Hash>& left) {
  std::erase_if(
      kept_, [&](const auto& one) { return had.contains(one.first) && !left.contains(one.first); });
}

void Witness::NoteVerdicts(const std::string& whose, const store::Store& store) {
  const auto begin = store.LogHashAt(0);
  Hash log_hash = begin.ok() ? *begin : Hash{};
  const absl::Status status = store.VisitArrivals(
      1, store.folded(), [&](std::uint64_t arrival, const store::StoredArrival& stored) {
        log_hash = facts::NextLogHash(log_hash, Sha256(stored.bytes), facts::TimesOf(stored));
        const auto [shown, is_new] = verdicts_.try_emplace(log_hash, stored.verdict);
        if (!is_new && shown->second != stored.verdict) {
          Complain(
              fmt::format("finality: arrival {} has another verdict at {} ({}) than was shown "
                          "before ({})",
                          arrival, whose, stored.verdict.reason, shown->second.reason));
        }
        return absl::OkStatus();
      });
  if (!status.ok())
    Complain(fmt::format("the log of {} cannot be read: {}", whose, std::string(status.message())));
}

void Witness::Complain(std::string what) {
  complaints_.push_back(std::move(what));
}

std::string TextOf(const absl::Status& status) {
  if (status.ok()) return "ok";
  return fmt::format("{}: {}", ReasonOf(status), std::string(status.message()));
}

bool IsAlarm(const absl::Status& status) {
  static const std::set<std::string> kAlarms = {
      "LOG_FORKED",    "LOG_SHRUNK",    "LOG_OTHER",    "LOG_SHORTER",        "PROOF_WRONG",
      "SERVER_OTHER",  "STORE_DAMAGED", "HOME_DAMAGED", "HEAD_SIGNATURE_BAD", "CHAIN_HOLE",
      "SIGNATURE_BAD", "COMMIT_FORM",   "LOG_MOVED",    "FOLD_UNFINISHED",    "TREE_MISSING"};
  return status.code() == absl::StatusCode::kInternal || kAlarms.contains(ReasonOf(status));
}

std::set<Hash> CommitsIn(const store::Store& log) {
  std::set<Hash> commits;
  log.VisitArrivals(1, log.point().arrivals,
                    [&](std::uint64_t, const store::StoredArrival& stored) {
                      commits.insert(Sha256(stored.bytes));
                      const auto commit = facts::ParseCommit(stored.bytes);
                      if (commit.ok()) commits.insert(StandsFor(*commit));
                      return absl::OkStatus();
                    })
      .IgnoreError();  // what cannot be read is missing then
  return commits;
}

}  // namespace broodpact::simulation
