#pragma once

// Log chunks on the wire: zstd, with a bound on what they may unpack to.

#include <string>
#include <string_view>

#include "absl/status/statusor.h"

namespace broodpact::sync {

std::string PackRecords(std::string_view records);

// Errors: RESOURCE_EXHAUSTED with reason CHUNK_TOO_LARGE (says it unpacks to more than
// kChunkBytesMax); INVALID_ARGUMENT with reason CHUNK_FORM.
absl::StatusOr<std::string> UnpackRecords(std::string_view packed);

}  // namespace broodpact::sync
