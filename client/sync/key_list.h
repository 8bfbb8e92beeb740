#pragma once

// A few keys as one small value of a store: 32 bytes each, one after the other.

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include "client/base/signature.h"

namespace broodpact::sync {

// Of the servers that nobody goes to any more, so many are kept, the newest.
inline constexpr std::size_t kLeftServersMax = 64;

std::string EncodeKeys(const std::vector<PublicKey>& keys);

// Up to the first that is cut short.
std::vector<PublicKey> DecodeKeys(std::string_view bytes);

}  // namespace broodpact::sync
