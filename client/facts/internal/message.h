#pragma once

// Reads a protobuf message from bytes that nobody vouches for.

#include <optional>
#include <string>
#include <string_view>

#include <google/protobuf/message.h>

namespace broodpact::facts::internal {

// Why bytes could not be read as a message.
struct MessageFault {
  // The string field that is not UTF-8, in words: "statement 3, animal entry, name". Empty: the
  // bytes are not a message at all.
  std::string text_at;
};

// Reads `bytes` into `message`. Silent: protobuf by itself would write to standard error about text
// that it refuses.
std::optional<MessageFault> ReadMessage(std::string_view bytes, google::protobuf::Message& message);

}  // namespace broodpact::facts::internal
