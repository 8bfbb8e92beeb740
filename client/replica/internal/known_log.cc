#include "client/replica/internal/known_log.h"

#include <algorithm>
#include <sstream>
#include <string>
#include <string_view>
#include <utility>

#include "client/base/bytes.h"
#include "client/base/hash.h"
#include "client/base/status.h"
#include "client/replica/internal/history.h"
#include "client/replica/internal/rep.h"
#include "client/sync/key_list.h"

namespace broodpact::replica {
namespace {

// Keys, one after the other.
absl::StatusOr<std::vector<PublicKey>> ReadKeys(const store::Store& database,
                                                std::string_view name) {
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> bytes, database.Meta(name));
  return bytes ? sync::DecodeKeys(*bytes) : std::vector<PublicKey>();
}

absl::Status AddKey(store::Store& database, std::string_view name, std::vector<PublicKey> keys,
                    const PublicKey& key) {
  if (std::ranges::find(keys, key) != keys.end()) return absl::OkStatus();
  keys.push_back(key);
  return database.PutMeta(name, sync::EncodeKeys(keys));
}

// Lines, the latest last.
absl::StatusOr<std::vector<std::string>> ReadServerCodes(const store::Store& database) {
  std::vector<std::string> codes;
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> bytes, database.Meta(kMetaServerCodes));
  std::istringstream lines(bytes.value_or(""));
  for (std::string line; std::getline(lines, line);) codes.push_back(line);
  return codes;
}

}  // namespace

std::string EncodePromise(const Promise& promise) {
  std::string bytes;
  ByteWriter writer(bytes);
  writer.Text(sync::EncodeHead(promise.head));
  writer.Unsigned(promise.common.arrivals);
  writer.Raw(ViewOf(promise.common.log_hash));
  return bytes;
}

std::optional<Promise> DecodePromise(std::string_view bytes) {
  if (const std::optional<sync::Head> alone = sync::DecodeHead(bytes)) {
    return Promise{.head = *alone};
  }
  ByteReader reader(bytes);
  const std::optional<sync::Head> head = sync::DecodeHead(reader.Text());
  Promise promise;
  promise.common.arrivals = reader.Unsigned();
  const std::optional<Hash> hash = HashOfBytes(reader.Raw(promise.common.log_hash.size()));
  if (!reader.ok() || !reader.at_end() || !head || !hash) return std::nullopt;
  promise.head = *head;
  promise.common.log_hash = *hash;
  return promise;
}

absl::StatusOr<KnownLog> ReadKnownLog(const store::Store& database) {
  KnownLog known;
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> head, database.Meta(kMetaHead));
  known.head = sync::DecodeHead(head.value_or(""));
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> promise, database.Meta(kMetaPromised));
  known.promise = DecodePromise(promise.value_or(""));
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> bytes, database.Meta(kMetaEpochs));
  if (bytes) known.epochs = sync::DecodeEpochs(*bytes).value_or(sync::Epochs());
  BP_ASSIGN_OR_RETURN(known.successors, ReadKeys(database, kMetaSuccessors));
  BP_ASSIGN_OR_RETURN(known.forsaken, ReadKeys(database, kMetaForsaken));
  BP_ASSIGN_OR_RETURN(known.server_codes, ReadServerCodes(database));
  if (!known.head) return known;
  // After a rewinding that was cut off, the head may be of the log that was.
  BP_ASSIGN_OR_RETURN(const HeadFit fit, FitOf(database, *known.head));
  if (fit == HeadFit::kOurs) return known;
  known.damaged = fit == HeadFit::kOther && known.Standing(known.head).has_value();
  known.head.reset();
  return known;
}

std::optional<sync::Head> KnownLog::promised() const {
  return promise ? std::optional<sync::Head>(promise->head) : std::nullopt;
}

std::optional<sync::Head> KnownLog::any_head() const {
  return head ? head : promised();
}

bool KnownLog::IsServer(const PublicKey& key) const {
  const std::optional<sync::Head> known = any_head();
  return !known || known->server_key == key ||
         std::ranges::find(successors, key) != successors.end();
}

bool KnownLog::WasServer(const PublicKey& key) const {
  return IsServer(key) || std::ranges::find(forsaken, key) != forsaken.end();
}

bool KnownLog::HasSuccessor() const {
  const std::optional<sync::Head> known = any_head();
  return known && !successors.empty() && successors.back() != known->server_key;
}

absl::Status KeepSuccessor(store::Store& database, const PublicKey& key) {
  BP_ASSIGN_OR_RETURN(const KnownLog known, ReadKnownLog(database));
  const std::optional<sync::Head> before = known.any_head();
  if (before && before->server_key != key) {
    BP_RETURN_IF_ERROR(AddKey(database, kMetaForsaken, known.forsaken, before->server_key));
  }
  return AddKey(database, kMetaSuccessors, known.successors, key);
}

absl::Status KeepServerCode(store::Store& database, const sync::ServerCode& code) {
  BP_ASSIGN_OR_RETURN(std::vector<std::string> codes, ReadServerCodes(database));
  // As it is built: what was typed may be of several lines.
  const std::string line = sync::BuildServerCode(code);
  std::erase(codes, line);
  codes.push_back(line);
  if (codes.size() > sync::kServerCodesMax) codes.erase(codes.begin());
  std::string lines;
  for (const std::string& one : codes) lines += one + '\n';
  return database.PutMeta(kMetaServerCodes, lines);
}

absl::Status KeepEpochs(store::Store& database, const sync::Epochs& told) {
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> bytes, database.Meta(kMetaEpochs));
  const std::optional<sync::Epochs> before = bytes ? sync::DecodeEpochs(*bytes) : std::nullopt;
  const sync::Epochs all = sync::Joined(before.value_or(sync::Epochs()), told);
  if (all.empty()) return absl::OkStatus();
  if (before != all) BP_RETURN_IF_ERROR(database.PutMeta(kMetaEpochs, sync::EncodeEpochs(all)));
  // Also where they were known: the time before may have been cut off here.
  return ForgetDoubts(database, all);
}

}  // namespace broodpact::replica
