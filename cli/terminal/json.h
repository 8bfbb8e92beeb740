#pragma once

// A registry message as JSON: protobuf's JSON mapping with the field names of the .proto files and
// zeros printed. One line for a program, indented for a person.

#include <string>
#include <string_view>

#include "absl/status/status.h"

#include "cli/terminal/terminal.h"

namespace google::protobuf {
class Message;
}

namespace broodpact::cli {

// Prints one document, with a line end.
// Errors: INTERNAL with reason JSON.
absl::Status PrintJson(const Terminal& terminal, const google::protobuf::Message& message);

// `text` as a JSON string, with its quotation marks.
std::string JsonString(std::string_view text);

// An error as one line of JSON, without a line end.
std::string ErrorJson(const absl::Status& status);

}  // namespace broodpact::cli
