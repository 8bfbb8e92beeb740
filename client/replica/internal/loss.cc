#include "client/replica/internal/loss.h"

#include <algorithm>
#include <set>
#include <utility>

#include <fmt/format.h>

#include "client/base/merkle_proof.h"
#include "client/base/status.h"
#include "client/replica/internal/history.h"
#include "client/replica/internal/refusal.h"
#include "client/replica/internal/rep.h"
#include "client/sync/session.h"

namespace broodpact::replica {
namespace {

// How often the two logs are compared anew because others give back, or push, at the same time.
constexpr int kAttemptsMax = 16;

// How many of them may end because the server's log is another one by then. An honest one would
// have to be put back, or be given all of it, just then each time.
constexpr int kPutOffsMax = 8;

// Places between `low`, which is common, and `high`, that divide what is between evenly.
std::vector<std::uint64_t> Between(std::uint64_t low, std::uint64_t high) {
  const std::uint64_t count = std::min<std::uint64_t>(high - low, sync::kComparePlacesMax);
  std::vector<std::uint64_t> places;
  for (std::uint64_t i = 1; i <= count; ++i) places.push_back(low + (high - low) * i / count);
  return places;
}

// Whether the server's log is no more the one that was just compared.
bool WasPutBackSince(const absl::Status& status) {
  return ReasonOf(status) == "LOG_OTHER";
}

// It says that it lacks nothing of what a comparison did not find there.
absl::Status NothingLacksError() {
  return Fail(absl::StatusCode::kFailedPrecondition, "LOG_OTHER",
              "the server has again what it lacked a moment ago; sync again");
}

absl::Status ServerBusyError() {
  return Fail(absl::StatusCode::kUnavailable, "SERVER_BUSY",
              "the server takes back its log from others at this moment; sync again in a minute");
}

}  // namespace

absl::StatusOr<LossRepair::Result> LossRepair::Run() {
  if (known_.damaged) return DamagedLogError();
  for (int attempt = 0; attempt < kAttemptsMax; ++attempt) {
    const absl::StatusOr<bool> settled = Attempt();
    if (WasPutBackSince(settled.status())) {
      if (++put_offs_ == kPutOffsMax) return settled.status();
      continue;
    }
    BP_RETURN_IF_ERROR(settled.status());
    if (*settled) return std::move(result_);
  }
  return ServerBusyError();
}

absl::StatusOr<bool> LossRepair::Attempt() {
  BP_ASSIGN_OR_RETURN(const Parting parting, FindParting());
  const facts::LogPoint& common = parting.common;
  const std::optional<sync::Head>& head = known_.head;
  const bool vouched = head && head->point.arrivals > common.arrivals;
  const bool went_no_further = common.arrivals == parting.server.head.point.arrivals;
  if (parting.all_is_there || !vouched || !went_no_further || declined_) return Settle(parting);
  BP_RETURN_IF_ERROR(GiveBack(common, *head));
  return false;
}

absl::StatusOr<bool> LossRepair::Settle(const Parting& parting) {
  if (!parting.all_is_there) return FindPlace(parting);
  if (known_.promise) BP_RETURN_IF_ERROR(AskFor(*known_.promise, parting));
  return true;
}

absl::Status LossRepair::AskFor(const Promise& promise, const Parting& parting) {
  const sync::Head& promised = promise.head;
  const sync::Head& told = parting.server.head;
  if (promised.point.arrivals > told.point.arrivals) {
    BP_ASSIGN_OR_RETURN(const bool admits, Admits(promised, parting.common));
    if (!admits) result_.doubt = ShrunkLog(promised, told);
    return absl::OkStatus();
  }
  if (sync::IsToldLost(result_.epochs, promised)) return absl::OkStatus();
  BP_ASSIGN_OR_RETURN(const sync::Comparison there,
                      server_.Compare({promised.point}, known_.remembered()));
  if (there.matching > 0) return absl::OkStatus();
  // By now others have filled its place.
  facts::LogPoint common = parting.common;
  if (promised.point.arrivals <= common.arrivals) {
    BP_ASSIGN_OR_RETURN(common, CommonWith(promise));
  }
  BP_ASSIGN_OR_RETURN(const bool admits, Admits(promised, common));
  if (!admits) result_.doubt = TwoHistories(promised, there.head);
  return absl::OkStatus();
}

absl::StatusOr<facts::LogPoint> LossRepair::CommonWith(const Promise& promise) const {
  BP_ASSIGN_OR_RETURN(const bool ours, IsPlaceOf(store_, promise.common));
  if (ours) return promise.common;
  return PlaceAt(store_.base().arrivals);
}

absl::StatusOr<bool> LossRepair::FindPlace(const Parting& parting) {
  const facts::LogPoint& common = parting.common;
  BP_ASSIGN_OR_RETURN(const facts::LogPoint place, RunEndAt(common));
  // What was stored under the promise of a head is lost as well, and may have been seen.
  for (const std::optional<sync::Head>& head : {known_.head, known_.promised()}) {
    if (!head || head->point.arrivals <= common.arrivals) continue;
    BP_ASSIGN_OR_RETURN(const bool admits, Admits(*head, place));
    if (!admits) {
      result_.doubt = TwoHistories(*head, parting.server.head);
      return true;
    }
  }
  const absl::Status delivered = DeliverAgain(place);
  // Put back once more since: told of the loss anew, it believes the first times.
  if (ReasonOf(delivered) == "LOSS_UNTOLD") return false;
  BP_RETURN_IF_ERROR(delivered);
  BP_ASSIGN_OR_RETURN(const sync::Comparison there, CompareAt({place.arrivals}));
  if (there.matching == 0) return false;  // it was put back once more
  if (there.matching_head && there.matching_head->point == place) {
    BP_RETURN_IF_ERROR(CheckKey(*there.matching_head));
    result_.head = there.matching_head;
  }
  result_.rewind_to = place;
  result_.repair.rewound_to = place.arrivals;
  return true;
}

absl::StatusOr<LossRepair::Parting> LossRepair::FindParting() {
  const std::uint64_t base = store_.base().arrivals;
  std::uint64_t low = base;
  std::uint64_t high = store_.point().arrivals;
  Parting parting;
  std::optional<facts::LogPoint> parted;  // where the server's log ended when it was seen to part
  bool asked = false;
  while (!asked || low < high) {
    const std::vector<std::uint64_t> places =
        low < high ? Between(low, high) : std::vector<std::uint64_t>{low};
    BP_ASSIGN_OR_RETURN(parting.server, CompareAt(places));
    asked = true;
    const std::size_t matching = parting.server.matching;
    const facts::LogPoint& end = parting.server.head.point;
    if (matching < places.size()) {
      high = places[matching] - std::min<std::uint64_t>(places[matching], 1);
      parted = end;
    }
    if (matching > 0) low = places[matching - 1];
    high = std::max(low, high);
    // What it lacked then, others may have given back meanwhile.
    const bool has_moved = parted && *parted != end;
    if (low == high && has_moved) high = store_.point().arrivals;
  }
  BP_RETURN_IF_ERROR(CheckKey(parting.server.head));
  server_key_ = parting.server.head.server_key;
  if (base > 0 && low == base) {
    // Where the two part before this log begins, only the whole of it can tell.
    BP_ASSIGN_OR_RETURN(const sync::Comparison there, CompareAt({base}));
    if (there.matching == 0) return LostBelowBase(there);
  }
  result_.epochs = parting.server.epochs;
  BP_ASSIGN_OR_RETURN(parting.common, PlaceAt(low));
  parting.all_is_there = low == store_.point().arrivals;
  return parting;
}

absl::Status LossRepair::LostBelowBase(const sync::Comparison& server) {
  if (!known_.head) return store_.CheckHistory();
  const std::optional<facts::LogPoint> common = sync::PartingOf(server.epochs, *known_.head);
  if (!common) {
    return Fail(absl::StatusCode::kUnavailable, "SERVER_BEHIND",
                "the server has lost a part of its log that this replica has not fetched yet; "
                "once a member who has it has synced, sync again");
  }
  // Perhaps nobody else has come as far, and could say how much was lost.
  result_.epochs = server.epochs;
  BP_RETURN_IF_ERROR(Admits(*known_.head, *common).status());
  // Its own entry may be among what was lost: without it nobody fetches anything.
  const absl::Status delivered = DeliverAgain(store_.base());
  if (ReasonOf(delivered) == "LOSS_UNTOLD") return ServerBusyError();
  BP_RETURN_IF_ERROR(delivered);
  return store_.CheckHistory();
}

absl::StatusOr<sync::Comparison> LossRepair::CompareAt(const std::vector<std::uint64_t>& places) {
  std::vector<facts::LogPoint> points;
  for (const std::uint64_t arrivals : places) {
    BP_ASSIGN_OR_RETURN(const facts::LogPoint place, PlaceAt(arrivals));
    points.push_back(place);
  }
  return server_.Compare(points, known_.remembered());
}

absl::Status LossRepair::CheckKey(const sync::Head& told) const {
  if (known_.IsServer(told.server_key)) return absl::OkStatus();
  return Fail(absl::StatusCode::kPermissionDenied, "SERVER_OTHER",
              "the server signs its log with another key than before; do not go on before its "
              "keeper has explained why");
}

absl::StatusOr<bool> LossRepair::Admits(const sync::Head& head, const facts::LogPoint& common) {
  if (sync::IsToldLost(result_.epochs, head, common)) return true;
  const absl::StatusOr<sync::Epochs> told = server_.ReportLoss(head, common);
  // One that took over need not know all servers before it.
  if (ReasonOf(told.status()) == "HEAD_OTHER" && head.server_key != server_key_) {
    return Fail(absl::StatusCode::kFailedPrecondition, "SERVER_UNKNOWN",
                "the new server does not know the one that this replica comes from; what was "
                "recorded is kept: once the registrar who set that one up has gone over "
                "(broodpact server move), or another one has vouched for it (broodpact server "
                "vouch, with a code of `broodpact server codes`), sync again");
  }
  // One that does not answer is asked again; one that refuses its own signature does not admit it.
  if (IsNoAnswer(told.status())) return told.status();
  if (absl::IsInvalidArgument(told.status()) || absl::IsPermissionDenied(told.status()) ||
      absl::IsUnimplemented(told.status())) {
    return false;
  }
  if (told.ok()) {
    result_.epochs = *told;
    if (sync::IsVoid(result_.epochs, head)) return true;
  }
  // It lost nothing, it says. That is so where somebody else has given it back since it was
  // compared; then the next comparison finds it there.
  const absl::Status put_off = told.ok() ? NothingLacksError() : told.status();
  // One that says so for ever does not admit what it lost.
  const bool is_last = put_offs_ + 1 == kPutOffsMax;
  if (WasPutBackSince(put_off) && is_last) return false;
  return put_off;
}

absl::Status LossRepair::GiveBack(const facts::LogPoint& common, const sync::Head& head) {
  std::uint64_t before = common.arrivals;
  while (before < head.point.arrivals) {
    std::uint64_t count = 0;
    BP_ASSIGN_OR_RETURN(const sync::LogPart part, PartAfter(before, head.point.arrivals, count));
    BP_ASSIGN_OR_RETURN(const std::vector<Hash> proof,
                        ConsistencyProof(*store_.TreeNodes(), before + count, head.point.arrivals));
    const absl::Status status = server_.GiveBack(part, head, proof);
    if (ReasonOf(status) == "LOG_MOVED") return absl::OkStatus();
    // A server that took over answers for what it was shown then, and no more.
    declined_ = ReasonOf(status) == "HEAD_OTHER";
    if (declined_) return absl::OkStatus();
    BP_RETURN_IF_ERROR(status);
    before += count;
    result_.repair.given_back += count;
  }
  return absl::OkStatus();
}

absl::Status LossRepair::DeliverAgain(const facts::LogPoint& place) {
  const std::uint64_t last = store_.point().arrivals;
  std::uint64_t before = place.arrivals;
  while (before < last) {
    std::uint64_t count = 0;
    BP_ASSIGN_OR_RETURN(const sync::LogPart part, PartAfter(before, last, count));
    BP_ASSIGN_OR_RETURN(const sync::Redelivery made, DeliverPart(part, count));
    before += count;
    result_.repair.delivered_again += made.arrived;
    result_.repair.refused += made.refused;
    BP_RETURN_IF_ERROR(KeepRefused(part, made.refused_at));
  }
  return absl::OkStatus();
}

absl::StatusOr<sync::Redelivery> LossRepair::DeliverPart(const sync::LogPart& part,
                                                         std::uint64_t count) {
  if (!known_.head) return server_.DeliverAgain(part, std::nullopt);
  BP_ASSIGN_OR_RETURN(
      const std::optional<sync::FirstTimes> times,
      sync::ProveFirstTimes(*store_.TreeNodes(), *known_.head, part.arrivals_before, count));
  return sync::DeliverWithTimes(server_, part, times);
}

absl::Status LossRepair::KeepRefused(const sync::LogPart& part,
                                     const std::vector<std::uint32_t>& places) {
  const std::set<std::uint32_t> refused(places.begin(), places.end());
  facts::ArrivalReader reader(part.records);
  for (std::uint32_t i = 0; !refused.empty() && !reader.at_end(); ++i) {
    BP_ASSIGN_OR_RETURN(const facts::ArrivalView arrival, reader.Next());
    if (!refused.contains(i)) continue;
    BP_ASSIGN_OR_RETURN(const facts::Commit commit, facts::ParseCommit(arrival.commit));
    result_.refused.push_back({.chain = facts::ChainOf(commit.header),
                               .seq = commit.header.seq,
                               .commit = {.bytes = std::string(arrival.commit),
                                          .signature = arrival.signature.value_or(Signature{})}});
  }
  return absl::OkStatus();
}

absl::StatusOr<sync::LogPart> LossRepair::PartAfter(std::uint64_t before, std::uint64_t last,
                                                    std::uint64_t& count) const {
  BP_ASSIGN_OR_RETURN(store::LogSlice slice, store_.ReadLog(before, sync::kChunkBytesTarget));
  if (slice.count == 0) {
    return Fail(
        absl::StatusCode::kDataLoss, "STORE_DAMAGED",
        fmt::format("the log after arrival {} cannot be read; run `broodpact verify`", before));
  }
  count = slice.count;
  sync::LogPart part{.arrivals_before = before, .records = std::move(slice.records)};
  if (before + count <= last) return part;
  count = last - before;
  BP_ASSIGN_OR_RETURN(part.records, facts::FirstRecords(part.records, count));
  return part;
}

absl::StatusOr<facts::LogPoint> LossRepair::RunEndAt(const facts::LogPoint& common) const {
  std::uint64_t arrivals = common.arrivals;
  while (arrivals > store_.base().arrivals) {
    BP_ASSIGN_OR_RETURN(const store::StoredArrival last, store_.ReadArrival(arrivals));
    if (last.signature.has_value()) break;
    --arrivals;
  }
  return PlaceAt(arrivals);
}

absl::StatusOr<facts::LogPoint> LossRepair::PlaceAt(std::uint64_t arrivals) const {
  BP_ASSIGN_OR_RETURN(const Hash log_hash, store_.LogHashAt(arrivals));
  return facts::LogPoint{.arrivals = arrivals, .log_hash = log_hash};
}

}  // namespace broodpact::replica
