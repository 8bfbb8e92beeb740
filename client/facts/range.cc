#include "client/facts/range.h"

#include <cstddef>
#include <iterator>
#include <utility>
#include <variant>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/facts/stated.h"

namespace broodpact::facts {
namespace {

std::string PlaceOf(std::uint64_t arrival) {
  return fmt::format("arrival {}", arrival);
}

absl::Status Denied(std::string_view reason, std::uint64_t arrival, std::string_view wrong) {
  return Fail(absl::StatusCode::kPermissionDenied, reason,
              fmt::format("{} {}", PlaceOf(arrival), wrong));
}

absl::Status CheckCooperative(const Arrived& arrived, const Hash& cooperative) {
  // The first arrival founds the cooperative: its hash is the id, so it cannot carry the id.
  const bool ours = arrived.arrival == 1 ? arrived.commit.header.cooperative == Hash{} &&
                                               arrived.commit.hash == cooperative
                                         : arrived.commit.header.cooperative == cooperative;
  if (ours) return absl::OkStatus();
  return Denied("COOPERATIVE_OTHER", arrived.arrival,
                "is of another cooperative; check the address of the server");
}

// A chain as far as it was followed, and which arrival is its newest.
struct Run {
  ChainHead head;
  std::size_t newest = 0;  // index into Range::arrivals
};

using Runs = std::map<ChainId, Run>;
using Keys = std::map<DeviceId, PublicKey>;

// Follows every chain through the range.
absl::StatusOr<Runs> Follow(const Range& range, const RangeContext& context) {
  Runs runs;
  for (std::size_t i = 0; i < range.arrivals.size(); ++i) {
    const Arrived& arrived = range.arrivals[i];
    BP_RETURN_IF_ERROR(CheckCooperative(arrived, context.cooperative));
    const ChainId chain = ChainOf(arrived.commit.header);
    auto run = runs.find(chain);
    if (run == runs.end()) {
      BP_ASSIGN_OR_RETURN(const ChainHead head, context.head_of(chain));
      run = runs.emplace(chain, Run{.head = head}).first;
    }
    BP_RETURN_IF_ERROR(
        Annotate(CheckFollows(run->second.head, arrived.commit), PlaceOf(arrived.arrival)));
    run->second = {.head = HeadAfter(arrived.commit), .newest = i};
  }
  return runs;
}

// The keys that the range itself brings, each under the device that its hash names.
Keys KeysIn(const Range& range) {
  Keys keys;
  const auto add = [&keys](const PublicKey& key) { keys.emplace(DeviceOf(key), key); };
  for (const Arrived& arrived : range.arrivals) {
    for (const Statement& statement : StatedIn(arrived.commit)) {
      if (const auto* founding = std::get_if<Founding>(&statement)) add(founding->device_key);
      if (const auto* joining = std::get_if<Joining>(&statement)) add(joining->device_key);
      if (const auto* joining = std::get_if<DeviceJoining>(&statement)) add(joining->device_key);
      if (const auto* rotation = std::get_if<KeyRotation>(&statement)) add(rotation->device_key);
    }
  }
  return keys;
}

absl::StatusOr<PublicKey> KeyOf(const DeviceId& device, std::uint64_t arrival, const Keys& brought,
                                const RangeContext& context) {
  if (const auto found = brought.find(device); found != brought.end()) return found->second;
  BP_ASSIGN_OR_RETURN(const std::optional<PublicKey> known, context.key_of(device));
  if (known) return *known;
  return Denied("DEVICE_UNKNOWN", arrival,
                fmt::format("is of device {}, which nobody let in", ToShortText(device)));
}

// Verifies the signature of the newest commit of one chain.
absl::Status CheckSignature(const Range& range, const Run& run, const Keys& brought,
                            const RangeContext& context) {
  const Arrived& newest = range.arrivals[run.newest];
  const std::optional<Signature>& signature = range.signatures[run.newest];
  if (!signature) {
    return Denied("SIGNATURE_MISSING", newest.arrival,
                  "ends a run of its device and carries no signature; fetch the range again");
  }
  BP_ASSIGN_OR_RETURN(const PublicKey key,
                      KeyOf(newest.commit.header.device, newest.arrival, brought, context));
  if (VerifyCommit(key, newest.commit.hash, *signature)) return absl::OkStatus();
  return Denied("SIGNATURE_BAD", newest.arrival,
                fmt::format("is not signed by device {}; somebody changed it",
                            ToShortText(newest.commit.header.device)));
}

}  // namespace

absl::Status ReadOnto(Range& range, std::string_view records) {
  if (range.arrivals.empty()) range.after = range.before;
  ArrivalReader reader(records);
  while (!reader.at_end()) {
    const std::uint64_t arrival = range.after.arrivals + 1;
    const auto view = reader.Next();
    if (!view.ok()) return Annotate(view.status(), PlaceOf(arrival));
    const Hash hash = Sha256(view->commit);
    auto commit = ParseCommit(view->commit, hash);
    if (!commit.ok()) return Annotate(commit.status(), PlaceOf(arrival));
    if (!range.arrivals.empty() && view->time_ms < range.arrivals.back().time_ms) {
      return Fail(absl::StatusCode::kDataLoss, "LOG_ORDER",
                  fmt::format("{} is earlier than the one before it; the log is damaged",
                              PlaceOf(arrival)));
    }
    range.after = {.arrivals = arrival,
                   .log_hash = NextLogHash(range.after.log_hash, hash, TimesOf(*view))};
    range.arrivals.push_back({.commit = *std::move(commit),
                              .arrival = arrival,
                              .time_ms = view->time_ms,
                              .first_time_ms = view->first_time_ms});
    range.bytes.emplace_back(view->commit);
    range.signatures.push_back(view->signature);
    range.log_hashes.push_back(range.after.log_hash);
  }
  return absl::OkStatus();
}

Range CutOff(Range& range, std::uint64_t arrivals) {
  const auto count = static_cast<std::ptrdiff_t>(arrivals - range.before.arrivals);
  const auto move_front = [count](auto& from, auto& to) {
    const auto end = from.begin() + count;
    to.assign(std::make_move_iterator(from.begin()), std::make_move_iterator(end));
    from.erase(from.begin(), end);
  };
  Range front{.before = range.before, .after = {}};
  move_front(range.arrivals, front.arrivals);
  move_front(range.bytes, front.bytes);
  move_front(range.signatures, front.signatures);
  move_front(range.log_hashes, front.log_hashes);
  front.after = {
      .arrivals = arrivals,
      .log_hash = front.log_hashes.empty() ? range.before.log_hash : front.log_hashes.back()};
  range.before = front.after;
  return front;
}

absl::StatusOr<std::map<ChainId, ChainHead>> CheckRange(const Range& range,
                                                        const RangeContext& context) {
  BP_ASSIGN_OR_RETURN(const Runs runs, Follow(range, context));
  const Keys brought = KeysIn(range);
  std::map<ChainId, ChainHead> heads;
  for (const auto& [chain, run] : runs) {
    BP_RETURN_IF_ERROR(CheckSignature(range, run, brought, context));
    heads.emplace_hint(heads.end(), chain, run.head);
  }
  return heads;
}

}  // namespace broodpact::facts
