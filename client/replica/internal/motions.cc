#include "client/replica/internal/motions.h"

#include <optional>
#include <utility>

#include "client/base/status.h"

namespace broodpact::replica {
namespace {

constexpr std::size_t kMotionsMax = 10'000;

}  // namespace

absl::StatusOr<std::vector<registry::Motion>> MotionsOf(const registry::Source& source) {
  BP_ASSIGN_OR_RETURN(const std::vector<registry::StoredSubject> stored,
                      source.SubjectsOfKind(registry::Kind::kMotion, std::nullopt, kMotionsMax));
  std::vector<registry::Motion> motions;
  for (const registry::StoredSubject& one : stored) {
    std::optional<registry::Motion> motion = registry::Decode<registry::Motion>(one.value);
    if (!motion) {
      return Fail(absl::StatusCode::kDataLoss, "STORE_DAMAGED",
                  "a motion cannot be read; run `broodpact verify`");
    }
    motions.push_back(*std::move(motion));
  }
  return motions;
}

}  // namespace broodpact::replica
