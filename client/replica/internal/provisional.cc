#include "client/replica/internal/provisional.h"

#include <optional>
#include <string>
#include <string_view>

#include "client/base/bytes.h"
#include "client/base/status.h"

namespace broodpact::replica {
namespace {

// Grammar, in the encoding of base/bytes.h: this byte; then for each, in order, hash(32) verdict.
constexpr char kForm = 1;

std::string EncodeAll(const ProvisionalVerdicts& verdicts) {
  std::string bytes(1, kForm);
  ByteWriter writer(bytes);
  for (const auto& [hash, verdict] : verdicts) {
    writer.Raw(ViewOf(hash));
    writer.Text(registry::Encode(verdict));
  }
  return bytes;
}

std::optional<ProvisionalVerdicts> DecodeAll(std::string_view bytes) {
  if (bytes.empty() || bytes.front() != kForm) return std::nullopt;
  ProvisionalVerdicts verdicts;
  ByteReader reader(bytes.substr(1));
  while (!reader.at_end()) {
    const std::optional<Hash> hash = HashOfBytes(reader.Raw(sizeof(Hash)));
    const std::optional<registry::Verdict> verdict = registry::DecodeVerdict(reader.Text());
    if (!reader.ok() || !hash || !verdict) return std::nullopt;
    verdicts.emplace(*hash, *verdict);
  }
  return verdicts;
}

}  // namespace

bool PlainlyCounts(const registry::Verdict& verdict) {
  return verdict == registry::Verdict{};
}

absl::StatusOr<std::optional<ProvisionalVerdicts>> ReadProvisional(const store::Store& database) {
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> kept, database.Meta(kMetaProvisional));
  return DecodeAll(kept.value_or(""));
}

absl::Status KeepProvisional(store::Store& database,
                             const std::vector<Replica::Undelivered>& waiting) {
  ProvisionalVerdicts verdicts;
  for (const Replica::Undelivered& one : waiting) {
    if (!PlainlyCounts(one.verdict)) verdicts.emplace(one.commit.hash, one.verdict);
  }
  const std::string bytes = EncodeAll(verdicts);
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> kept, database.Meta(kMetaProvisional));
  if (kept.value_or("") == bytes) return absl::OkStatus();
  return database.PutMeta(kMetaProvisional, bytes, store::Durability::kWritten);
}

absl::Status ForgetProvisional(store::Store& database) {
  return database.PutMeta(kMetaProvisional, "", store::Durability::kWritten);
}

}  // namespace broodpact::replica
