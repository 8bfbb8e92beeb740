#pragma once

// What a server says that is no answer to what it was asked.

#include <string>

#include "absl/status/status.h"

#include "client/base/status.h"

namespace broodpact::replica {

// Whether the device that asks has ceased there: it was cut off, another key took its place, or its
// keeper left.
inline bool IsRefusal(const absl::Status& status) {
  const std::string reason = ReasonOf(status);
  return reason == "DEVICE_REVOKED" || reason == "DEVICE_REPLACED" || reason == "DEVICE_LEFT";
}

// Whether nothing was said at all: the above; or nobody answers, or somebody else; or the call is
// not let in, or there is no room for it now, there or here; or something went wrong there. None of
// it convicts a server.
inline bool IsNoAnswer(const absl::Status& status) {
  return IsRefusal(status) || ReasonOf(status) == "SERVER_OTHER" || absl::IsUnavailable(status) ||
         absl::IsUnauthenticated(status) || absl::IsResourceExhausted(status) ||
         absl::IsInternal(status);
}

}  // namespace broodpact::replica
