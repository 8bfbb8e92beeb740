#include "client/store/state_root.h"

#include <string>
#include <string_view>

#include "client/base/status.h"
#include "client/registry/fold.h"
#include "client/store/internal/keys.h"
#include "client/store/state_digest.h"

namespace broodpact::store {

Hash RootOf(const StateAt& state) {
  using namespace std::string_view_literals;
  const Key arrivals = Key().Big64(state.point.arrivals);
  const Key version = Key().Big32(state.fold_version);
  return Sha256({"broodpact state root v1\0"sv, ViewOf(state.cooperative), arrivals.view(),
                 ViewOf(state.point.log_hash), ViewOf(state.state_digest),
                 ViewOf(state.heads_digest), version.view()});
}

absl::StatusOr<StateAt> StateOf(const Pinned& pinned, const Hash& cooperative) {
  StateAt state{.cooperative = cooperative,
                .point = pinned.point(),
                .state_digest = {},
                .heads_digest = {},
                .fold_version = registry::kFoldVersion};
  StateHasher subjects;
  BP_RETURN_IF_ERROR(pinned.VisitSubjects([&](std::string_view key, std::string_view value) {
    subjects.Add(key, value);
    return absl::OkStatus();
  }));
  StateHasher heads;
  BP_RETURN_IF_ERROR(pinned.VisitHeads([&](std::string_view key, std::string_view value) {
    heads.Add(key, value);
    return absl::OkStatus();
  }));
  state.state_digest = subjects.Finish();
  state.heads_digest = heads.Finish();
  return state;
}

}  // namespace broodpact::store
