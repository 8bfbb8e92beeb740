#include "client/replica/vouchers.h"

#include <algorithm>
#include <utility>
#include <variant>

#include <fmt/format.h>

#include "client/base/bytes.h"
#include "client/base/status.h"
#include "client/facts/arrival.h"
#include "client/facts/of_membership.h"
#include "client/sync/snapshot.h"

namespace broodpact::replica {
namespace {

// What the fold of membership rests on, and nothing else: what a statement of another kind says of
// an animal cannot be judged without the animal. One of a newer kind says nothing by these rules;
// where a newer version knows it, the rules are newer.
struct IsVoucher {
  template <typename Kind>
  bool operator()(const Kind&) const {
    return facts::kIsOfMembership<Kind>;
  }
  bool operator()(const facts::Restatement& s) const { return IsOfMembership(*s.told); }
  bool operator()(const facts::Adoption& s) const { return IsOfMembership(*s.told); }
};

bool Vouches(const facts::Statement& statement) {
  return std::visit(IsVoucher(), statement);
}

}  // namespace

bool IsOfMembership(const facts::Commit& commit) {
  return std::ranges::any_of(commit.statements, Vouches);
}

facts::Commit MembershipIn(const facts::Commit& commit) {
  facts::Commit only = commit;
  const bool newer = std::ranges::any_of(commit.statements, [](const facts::Statement& one) {
    return std::holds_alternative<facts::Unknown>(one);
  });
  // One with a kind that this version does not know is held as a whole.
  if (!newer) {
    std::erase_if(only.statements, [](const facts::Statement& one) { return !Vouches(one); });
  }
  return only;
}

absl::Status VoucherPicker::Add(std::uint64_t arrival, const store::StoredArrival& stored) {
  if (records_.empty()) {
    BP_ASSIGN_OR_RETURN(const facts::Commit commit, facts::ParseCommit(stored.bytes));
    if (!IsOfMembership(commit)) return absl::OkStatus();
    before_ = arrival - 1;
  }
  facts::AppendArrival(records_, {.commit = stored.bytes,
                                  .time_ms = stored.time_ms,
                                  .first_time_ms = stored.first_time_ms,
                                  .signature = stored.signature});
  if (stored.signature) EndRun();
  if (bytes_ + records_.size() <= kVoucherBytesMax) return absl::OkStatus();
  return Fail(absl::StatusCode::kResourceExhausted, "VOUCHERS_TOO_LONG",
              "what the log says of its members is too long for a snapshot");
}

void VoucherPicker::EndRun() {
  std::string run;
  ByteWriter writer(run);
  writer.Unsigned(before_);
  writer.Text(std::exchange(records_, {}));
  bytes_ += run.size();
  if (parts_.empty() || parts_.back().size() + run.size() > sync::kSnapshotPartBytesMax) {
    parts_.emplace_back();
  }
  parts_.back() += run;
}

}  // namespace broodpact::replica
