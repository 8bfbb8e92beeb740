#include "server/recovery.h"

#include <algorithm>
#include <iterator>
#include <optional>
#include <utility>
#include <vector>

#include "absl/status/status.h"
#include <fmt/format.h>

#include "client/base/merkle_proof.h"
#include "client/base/status.h"
#include "client/sync/chunk.h"
#include "client/sync/recovery.h"
#include "client/sync/server_code.h"
#include "server/epochs.h"
#include "server/redelivery.h"

namespace broodpact::server {
namespace {

// How far a head of a server that was left may be from the log here: it counts by a registrar's
// word alone, and what it says is passed on to all.
constexpr std::uint32_t kForeignEpochsMax = 4'096;
constexpr std::uint64_t kForeignArrivalsMax = std::uint64_t{1} << 40U;

absl::Status PlacesError(std::string_view what) {
  return Fail(
      absl::StatusCode::kInvalidArgument, "PLACES_FORM",
      fmt::format("places of a log are 1 to {}, ascending, each with a hash of 32 bytes; {}",
                  sync::kComparePlacesMax, what));
}

absl::StatusOr<facts::LogPoint> PlaceIn(const v1::LogPlace& message) {
  const std::optional<Hash> log_hash = HashOfBytes(message.log_hash());
  if (!log_hash) return PlacesError("one has no such hash");
  return facts::LogPoint{.arrivals = message.arrivals(), .log_hash = *log_hash};
}

absl::Status MovedError(std::uint64_t arrivals) {
  return Fail(absl::StatusCode::kAborted, "LOG_MOVED",
              fmt::format("the log has {} arrivals by now; compare again", arrivals));
}

using ProofBytes = google::protobuf::RepeatedPtrField<std::string>;
absl::StatusOr<std::vector<Hash>> ProofIn(const ProofBytes& hashes) {
  std::vector<Hash> proof;
  bool good = static_cast<std::size_t>(hashes.size()) <= kMerkleProofHashesMax;
  for (int i = 0; good && i < hashes.size(); ++i) {
    const std::optional<Hash> hash = HashOfBytes(hashes.Get(i));
    good = hash.has_value();
    if (good) proof.push_back(*hash);
  }
  if (good) return proof;
  return Fail(absl::StatusCode::kInvalidArgument, "PROOF_WRONG",
              "a proof is at most 49 hashes of 32 bytes");
}

}  // namespace

absl::StatusOr<bool> Recovery::IsOurs(const facts::LogPoint& place) const {
  if (place.arrivals > surroundings_.store.point().arrivals) return false;
  BP_ASSIGN_OR_RETURN(const Hash log_hash, surroundings_.store.LogHashAt(place.arrivals));
  return log_hash == place.log_hash;
}

absl::Status Recovery::Compare(const v1::CompareRequest& request,
                               v1::CompareResponse& response) const {
  if (request.cooperative_id() != ViewOf(surroundings_.arrival_log.cooperative())) {
    return Fail(absl::StatusCode::kFailedPrecondition, "COOPERATIVE_OTHER",
                "this server belongs to another cooperative");
  }
  const auto count = static_cast<std::size_t>(request.places_size());
  if (count == 0 || count > sync::kComparePlacesMax) return PlacesError("count them");
  std::uint32_t matching = 0;
  bool same = true;
  for (int i = 0; same && i < request.places_size(); ++i) {
    if (i > 0 && request.places(i).arrivals() <= request.places(i - 1).arrivals()) {
      return PlacesError("put them in order");
    }
    BP_ASSIGN_OR_RETURN(const facts::LogPoint place, PlaceIn(request.places(i)));
    BP_ASSIGN_OR_RETURN(same, IsOurs(place));
    if (same) ++matching;
  }
  BP_ASSIGN_OR_RETURN(sync::Epochs told,
                      sync::ReadEpochs(request.epochs(), surroundings_.arrival_log.cooperative()));
  BP_RETURN_IF_ERROR(TakeServerCodes(request));
  BP_RETURN_IF_ERROR(TakeEpochs(std::move(told)));
  response.set_matching(matching);
  if (matching > 0) {
    const std::uint64_t arrivals = request.places(static_cast<int>(matching) - 1).arrivals();
    BP_ASSIGN_OR_RETURN(const sync::Head head, surroundings_.arrival_log.HeadAt(arrivals));
    sync::Write(head, *response.mutable_matching_head());
  }
  sync::Write(surroundings_.arrival_log.herald().head(), *response.mutable_head());
  sync::Write(surroundings_.arrival_log.epochs(), *response.mutable_epochs());
  return absl::OkStatus();
}

bool Recovery::IsKnown(const PublicKey& server_key, const std::vector<PublicKey>& left) const {
  return surroundings_.arrival_log.IsOurServer(server_key) ||
         std::ranges::find(left, server_key) != left.end();
}

absl::StatusOr<bool> Recovery::IsRegistrarsWord(const sync::ServerCode& code) const {
  if (code.cooperative != surroundings_.arrival_log.cooperative()) return false;
  BP_ASSIGN_OR_RETURN(const std::optional<PublicKey> key,
                      surroundings_.callers.RegistrarsKey(code.named_by));
  return key && VerifySignature(*key, sync::ServerCodeMessage(code), code.signature);
}

absl::Status Recovery::TakeServerCodes(const v1::CompareRequest& request) const {
  const auto count = std::min<std::size_t>(static_cast<std::size_t>(request.server_codes_size()),
                                           sync::kServerCodesMax);
  BP_ASSIGN_OR_RETURN(const std::vector<PublicKey> left, ReadLeftServers(surroundings_.store));
  for (std::size_t i = 0; i < count; ++i) {
    const auto code = sync::ParseServerCode(request.server_codes(static_cast<int>(i)));
    if (!code.ok() || IsKnown(code->server_key, left)) continue;
    BP_ASSIGN_OR_RETURN(const bool vouched, IsRegistrarsWord(*code));
    if (vouched) BP_RETURN_IF_ERROR(surroundings_.arrival_log.NoteLeft(code->server_key));
  }
  return absl::OkStatus();
}

absl::Status Recovery::TakeEpochs(sync::Epochs told) const {
  ArrivalLog& log = surroundings_.arrival_log;
  BP_ASSIGN_OR_RETURN(const std::vector<PublicKey> left, ReadLeftServers(surroundings_.store));
  std::erase_if(told, [&](const sync::Epoch& epoch) {
    return !IsKnown(epoch.server_key, left) || epoch.lost_arrivals > kForeignArrivalsMax;
  });
  const auto others = std::ranges::stable_partition(
      told, [this](const sync::Epoch& epoch) { return epoch.server_key == surroundings_.log_key; });
  const sync::Epochs inherited(others.begin(), others.end());
  told.erase(others.begin(), others.end());
  BP_RETURN_IF_ERROR(log.RememberEpochs(told));
  return log.InheritEpochs(inherited);
}

absl::StatusOr<sync::Head> Recovery::HeadIn(const v1::SignedHead& message) const {
  return sync::ReadHead(message, surroundings_.arrival_log.cooperative());
}

absl::StatusOr<facts::LogPoint> Recovery::CommonPlace(const v1::LogPlace& message) const {
  BP_ASSIGN_OR_RETURN(const facts::LogPoint place, PlaceIn(message));
  BP_ASSIGN_OR_RETURN(const bool ours, IsOurs(place));
  if (ours) return place;
  return Fail(
      absl::StatusCode::kFailedPrecondition, "LOG_OTHER",
      fmt::format("this log is another one after {} arrivals; compare again", place.arrivals));
}

absl::Status Recovery::CheckWitness(const DeviceId& caller, const sync::Head& head) const {
  const ArrivalLog& log = surroundings_.arrival_log;
  if (log.IsOurServer(head.server_key)) return absl::OkStatus();
  BP_ASSIGN_OR_RETURN(const std::vector<PublicKey> left, ReadLeftServers(surroundings_.store));
  BP_ASSIGN_OR_RETURN(const bool registrar, surroundings_.callers.IsRegistrar(caller));
  const bool vouched = registrar || IsKnown(head.server_key, left);
  const bool sound = head.epoch <= PresentEpoch(log.epochs()) + kForeignEpochsMax &&
                     head.point.arrivals <= kForeignArrivalsMax;
  if (vouched && sound) return absl::OkStatus();
  return Fail(absl::StatusCode::kInvalidArgument, "HEAD_OTHER",
              "that head is of a server that nobody here knows; the registrar who set it up is to "
              "go over first");
}

absl::Status Recovery::ReportLoss(const DeviceId& caller, const v1::ReportLossRequest& request,
                                  v1::ReportLossResponse& response) const {
  // Two registrars may each have set up a server. All that follows from a head is that this log is
  // said not to be the only one that commits have seen.
  BP_ASSIGN_OR_RETURN(const sync::Head head, HeadIn(request.head()));
  BP_RETURN_IF_ERROR(CheckWitness(caller, head));
  BP_ASSIGN_OR_RETURN(const facts::LogPoint common, CommonPlace(request.common()));
  BP_ASSIGN_OR_RETURN(const bool ours, IsOurs(head.point));
  // Also where nothing is lost: others may come from that server with more.
  BP_RETURN_IF_ERROR(surroundings_.arrival_log.NoteLeft(head.server_key));
  if (!ours) BP_RETURN_IF_ERROR(surroundings_.arrival_log.NoteLoss(head, common));
  sync::Write(surroundings_.arrival_log.epochs(), *response.mutable_epochs());
  return absl::OkStatus();
}

absl::Status Recovery::CheckLeadsTo(const facts::Range& range, const sync::Head& head,
                                    const std::vector<Hash>& proof) const {
  BP_ASSIGN_OR_RETURN(MerkleFrontier tree, MerkleFrontier::Read(*surroundings_.store.TreeNodes(),
                                                                range.before.arrivals));
  for (const facts::Arrived& arrived : range.arrivals) {
    BP_RETURN_IF_ERROR(
        tree.Append(facts::LogLeafHash(arrived.commit.hash, facts::TimesOf(arrived))));
  }
  return VerifyConsistency({.size = tree.size(), .root = tree.Root()},
                           {.size = head.point.arrivals, .root = head.tree_root}, proof);
}

absl::Status Recovery::GiveBack(const v1::GiveBackRequest& request,
                                v1::GiveBackResponse& response) const {
  BP_ASSIGN_OR_RETURN(const sync::Head head, HeadIn(request.head()));
  // Of the server before this one, what it had signed when this one took its place, and no more.
  if (!surroundings_.arrival_log.MayFill(head)) {
    return Fail(absl::StatusCode::kInvalidArgument, "HEAD_OTHER",
                "that head was signed by another server, or by the one before this one after this "
                "one took its place; let what follows arrive again");
  }
  BP_ASSIGN_OR_RETURN(const std::vector<Hash> proof, ProofIn(request.proof()));
  BP_ASSIGN_OR_RETURN(const std::string records,
                      sync::UnpackRecords(request.chunk().records_zstd()));
  const facts::LogPoint end = surroundings_.store.point();
  if (request.chunk().arrivals_before() != end.arrivals) return MovedError(end.arrivals);
  facts::Range range{.before = end, .after = end};
  BP_RETURN_IF_ERROR(facts::ReadOnto(range, records));
  if (range.empty()) {
    return Fail(absl::StatusCode::kInvalidArgument, "RECORD_FORM", "nothing is given back");
  }
  BP_RETURN_IF_ERROR(CheckLeadsTo(range, head, proof));
  BP_RETURN_IF_ERROR(surroundings_.arrival_log.TakeBack(range));
  // Heads of this epoch would contradict those of a later one that this log has forgotten.
  if (head.epoch > surroundings_.arrival_log.herald().head().epoch) {
    BP_RETURN_IF_ERROR(surroundings_.arrival_log.NoteLoss(head, range.after));
  }
  response.set_arrivals(range.after.arrivals);
  return absl::OkStatus();
}

absl::StatusOr<std::uint64_t> Recovery::ProvenIn(const DeviceId& caller,
                                                 const v1::DeliverAgainRequest& request,
                                                 std::string_view records) const {
  if (!request.has_head()) return std::uint64_t{0};
  sync::FirstTimes times;
  BP_ASSIGN_OR_RETURN(times.head, HeadIn(request.head()));
  BP_RETURN_IF_ERROR(CheckWitness(caller, times.head));
  // So nobody dates anything back by a log that the others have not been told of.
  if (!sync::IsToldLost(surroundings_.arrival_log.epochs(), times.head)) {
    return Fail(absl::StatusCode::kInvalidArgument, "LOSS_UNTOLD",
                "that head is of no log that is known to be lost; report the loss first");
  }
  times.tree_before = request.tree_before();
  BP_ASSIGN_OR_RETURN(times.proof, ProofIn(request.proof()));
  return sync::CheckFirstTimes(request.chunk().arrivals_before(), records, times);
}

absl::Status Recovery::DeliverAgain(const DeviceId& caller, const v1::DeliverAgainRequest& request,
                                    v1::DeliverAgainResponse& response) const {
  BP_ASSIGN_OR_RETURN(const std::string records,
                      sync::UnpackRecords(request.chunk().records_zstd()));
  BP_ASSIGN_OR_RETURN(const std::uint64_t proven, ProvenIn(caller, request, records));
  Redelivery redelivery(surroundings_.arrival_log, surroundings_.callers,
                        {.device = caller,
                         .allowance = surroundings_.allowance,
                         .now_ms = surroundings_.callers.now_ms()});
  BP_RETURN_IF_ERROR(redelivery.Deliver(records, proven));
  response.set_arrived(redelivery.arrived());
  response.set_known(redelivery.known());
  response.set_refused(redelivery.refused());
  for (const std::uint32_t place : redelivery.refused_at()) response.add_refused_at(place);
  surroundings_.log.Write(Level::kInfo, "delivered_again",
                          {{"arrived", fmt::to_string(redelivery.arrived())},
                           {"known", fmt::to_string(redelivery.known())},
                           {"proven", fmt::to_string(proven)},
                           {"refused", fmt::to_string(redelivery.refused())}});
  return absl::OkStatus();
}

}  // namespace broodpact::server
