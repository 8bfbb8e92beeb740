#include "client/replica/internal/vouched_devices.h"

#include <optional>
#include <utility>

#include "client/base/bytes.h"
#include "client/base/status.h"
#include "client/facts/range.h"
#include "client/registry/fold.h"
#include "client/replica/vouchers.h"

namespace broodpact::replica {
namespace {

absl::Status VouchersFormError() {
  return Fail(absl::StatusCode::kDataLoss, "VOUCHERS_FORM",
              "what the snapshot says of the members is malformed");
}

}  // namespace

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
    registry::Fold(state_, {.commit = MembershipIn(arrived.commit),
                            .arrival = arrived.arrival,
                            .time_ms = arrived.time_ms,
                            .first_time_ms = arrived.first_time_ms});
  }
  last_ = range.after.arrivals;
  return state_.source_status();
}

absl::StatusOr<std::optional<registry::Device>> VouchedDevices::Active(
    const DeviceId& device) const {
  const auto known = registry::Read<registry::Device>(source_, device);
  if (!known.ok()) return known.status();
  const std::optional<registry::Device>& found = *known;
  if (!found || found->state != registry::DeviceState::kActive) {
    return std::optional<registry::Device>();
  }
  return found;
}

absl::StatusOr<std::string> VouchedDevices::NameOf(const KeeperId& keeper) const {
  BP_ASSIGN_OR_RETURN(const std::optional<registry::Keeper> known,
                      registry::Read<registry::Keeper>(source_, keeper));
  return known ? known->name : ToShortText(keeper);
}

}  // namespace broodpact::replica
