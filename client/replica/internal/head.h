#pragma once

// The server's last signed head as it is kept in the store.

#include <optional>
#include <string>
#include <string_view>

#include "client/sync/session.h"

namespace broodpact::replica {

// Grammar, in the encoding of base/bytes.h: epoch and arrivals unsigned, log hash (32 bytes), root
// of the tree (32), time signed, signature (64), server key (32).
std::string EncodeHead(const sync::Head& head);

// Nothing if the bytes are no head.
std::optional<sync::Head> DecodeHead(std::string_view bytes);

}  // namespace broodpact::replica
