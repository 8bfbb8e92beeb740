#include "client/replica/internal/provisional.h"

#include <optional>
#include <string>
#include <string_view>

#include "client/base/bytes.h"
#include "client/base/status.h"

namespace broodpact::replica {
namespace {

// The small value of the store: for each, in order, hash(32) verdict.
constexpr char kMetaProvisional[] = "provisional";

bool PlainlyCounts(const registry::Verdict& verdict) {
  return verdict == registry::Verdict{};
}

std::string EncodeAll(const ProvisionalVerdicts& verdicts) {
  std::string bytes;
  ByteWriter writer(bytes);
  for (const auto& [hash, verdict] : verdicts) {
    writer.Raw(ViewOf(hash));
    writer.Text(registry::Encode(verdict));
  }
  return bytes;
}

std::optional<ProvisionalVerdicts> DecodeAll(std::string_view bytes) {
  ProvisionalVerdicts verdicts;
  ByteReader reader(bytes);
  while (!reader.at_end()) {
    const std::optional<Hash> hash = HashOfBytes(reader.Raw(sizeof(Hash)));
    const std::optional<registry::Verdict> verdict = registry::DecodeVerdict(reader.Text());
    if (!reader.ok() || !hash || !verdict) return std::nullopt;
    verdicts.emplace(*hash, *verdict);
  }
  return verdicts;
}

}  // namespace

absl::StatusOr<ProvisionalVerdicts> ReadProvisional(const store::Store& database) {
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> kept, database.Meta(kMetaProvisional));
  return DecodeAll(kept.value_or("")).value_or(ProvisionalVerdicts());
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

}  // namespace broodpact::replica
