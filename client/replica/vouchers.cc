#include "client/replica/vouchers.h"

#include <algorithm>
#include <utility>
#include <variant>

#include <fmt/format.h>

#include "client/base/bytes.h"
#include "client/base/status.h"
#include "client/facts/range.h"
#include "client/registry/fold.h"
#include "client/sync/snapshot.h"

namespace broodpact::replica {
namespace {

// What the fold of membership rests on, and nothing else: what a statement of another kind says of
// an animal cannot be judged without the animal.
struct IsVoucher {
  template <typename Kind>
  bool operator()(const Kind&) const {
    return false;
  }
  bool operator()(const facts::Founding&) const { return true; }
  bool operator()(const facts::Invitation&) const { return true; }
  bool operator()(const facts::Joining&) const { return true; }
  bool operator()(const facts::DeviceInvitation&) const { return true; }
  bool operator()(const facts::DeviceJoining&) const { return true; }
  bool operator()(const facts::Revocation&) const { return true; }
  bool operator()(const facts::KeyRotation&) const { return true; }
  bool operator()(const facts::RoleChange&) const { return true; }
  bool operator()(const facts::MotionSignature&) const { return true; }
  bool operator()(const facts::Leaving&) const { return true; }
  bool operator()(const facts::Restatement& s) const { return IsOfMembership(*s.told); }
  bool operator()(const facts::Adoption& s) const { return IsOfMembership(*s.told); }
  bool operator()(const facts::Unknown&) const { return true; }
};

bool Vouches(const facts::Statement& statement) {
  return std::visit(IsVoucher(), statement);
}

// Of a commit that says other things too, what it says of membership.
facts::Commit OnlyMembership(const facts::Commit& commit) {
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

absl::Status VouchersFormError() {
  return Fail(absl::StatusCode::kDataLoss, "VOUCHERS_FORM",
              "what the snapshot says of the members is malformed");
}

}  // namespace

bool IsOfMembership(const facts::Commit& commit) {
  return std::ranges::any_of(commit.statements, Vouches);
}

absl::Status VoucherPicker::Add(std::uint64_t arrival, const store::StoredArrival& stored) {
  if (records_.empty()) {
    BP_ASSIGN_OR_RETURN(const facts::Commit commit, facts::ParseCommit(stored.bytes));
    if (!IsOfMembership(commit)) return absl::OkStatus();
    before_ = arrival - 1;
  }
  facts::AppendArrival(
      records_, {.commit = stored.bytes, .time_ms = stored.time_ms, .signature = stored.signature});
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

absl::Status VouchedDevices::Add(std::string_view part) {
  ByteReader reader(part);
  while (!reader.at_end()) {
    const std::uint64_t before = reader.Unsigned();
    const std::string_view records = reader.Text();
    if (!reader.ok() || records.empty() || before < last_) return VouchersFormError();
    BP_RETURN_IF_ERROR(AddRun(before, records));
  }
  source_.Store(state_.TakeChanges());
  return absl::OkStatus();
}

absl::Status VouchedDevices::AddRun(std::uint64_t arrivals_before, std::string_view records) {
  // The log hash between runs is not known, and not asked for: signatures and chains tell what is
  // genuine.
  facts::Range range{.before = {.arrivals = arrivals_before, .log_hash = {}}, .after = {}};
  BP_RETURN_IF_ERROR(facts::ReadOnto(range, records));
  const facts::CommitHeader& first = range.arrivals.front().commit.header;
  const facts::RangeContext context{
      .head_of = [&](const facts::ChainId& chain) -> absl::StatusOr<facts::ChainHead> {
        if (chain != facts::ChainOf(first)) return VouchersFormError();  // a run is of one chain
        return facts::ChainHead{.seq = first.seq - 1, .hash = first.prev};
      },
      .key_of = [&](const DeviceId& id) -> absl::StatusOr<std::optional<PublicKey>> {
        const auto* known = state_.Find<registry::Device>(id);
        return known == nullptr ? std::nullopt : std::optional<PublicKey>(known->key);
      },
      .cooperative = cooperative_};
  BP_RETURN_IF_ERROR(facts::CheckRange(range, context).status());
  for (const facts::Arrived& arrived : range.arrivals) {
    if (!IsOfMembership(arrived.commit)) continue;
    // A verdict other than counted is the log's business: it changes nothing here either.
    registry::Fold(state_, {.commit = OnlyMembership(arrived.commit),
                            .arrival = arrived.arrival,
                            .time_ms = arrived.time_ms});
  }
  last_ = range.after.arrivals;
  return state_.source_status();
}

absl::StatusOr<std::optional<registry::Device>> VouchedDevices::Active(
    const DeviceId& device) const {
  BP_ASSIGN_OR_RETURN(std::optional<registry::Device> known,
                      registry::Read<registry::Device>(source_, device));
  if (known && known->state != registry::DeviceState::kActive) known.reset();
  return known;
}

absl::StatusOr<std::string> VouchedDevices::NameOf(const KeeperId& keeper) const {
  BP_ASSIGN_OR_RETURN(const std::optional<registry::Keeper> known,
                      registry::Read<registry::Keeper>(source_, keeper));
  return known ? known->name : ToShortText(keeper);
}

}  // namespace broodpact::replica
