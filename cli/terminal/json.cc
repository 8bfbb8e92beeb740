#include "cli/terminal/json.h"

#include <algorithm>

#include <fmt/format.h>
#include <google/protobuf/util/json_util.h>

#include "cli/terminal/exit_code.h"
#include "client/base/status.h"
#include "client/base/text.h"

namespace broodpact::cli {
namespace {

constexpr std::size_t kCharacterBytesMax = 4;

// Bytes of the character that `text` (not empty) begins with; 0 where it is not UTF-8: folders and
// mistyped words are bytes.
std::size_t CharacterSize(std::string_view text) {
  for (std::size_t size = 1; size <= std::min(text.size(), kCharacterBytesMax); ++size) {
    if (IsUtf8(text.substr(0, size))) return size;
  }
  return 0;
}

}  // namespace

absl::Status PrintJson(const Terminal& terminal, const google::protobuf::Message& message) {
  google::protobuf::util::JsonPrintOptions options;
  options.preserve_proto_field_names = true;
  options.always_print_primitive_fields = true;
  options.add_whitespace = terminal.out_is_tty;
  std::string json;
  const auto status = google::protobuf::util::MessageToJsonString(message, &json, options);
  if (!status.ok()) return Fail(absl::StatusCode::kInternal, "JSON", status.ToString());
  terminal.out << json;
  if (!terminal.out_is_tty) terminal.out << '\n';
  terminal.out.flush();
  return absl::OkStatus();
}

std::string JsonString(std::string_view text) {
  std::string json = "\"";
  while (!text.empty()) {
    const std::size_t size = CharacterSize(text);
    const char c = text.front();
    if (size == 0) {
      json += "\\ufffd";
    } else if (c == '"' || c == '\\') {
      json += '\\';
      json += c;
    } else if (static_cast<unsigned char>(c) < 0x20) {
      json += fmt::format("\\u{:04x}", static_cast<unsigned>(c));
    } else {
      json += text.substr(0, size);
    }
    text.remove_prefix(size == 0 ? 1 : size);
  }
  return json + "\"";
}

std::string ErrorJson(const absl::Status& status) {
  const absl::string_view message = status.message();
  return fmt::format(R"({{"error":{{"reason":{},"message":{},"exit":{}}}}})",
                     JsonString(ReasonOf(status)),
                     JsonString(std::string_view(message.data(), message.size())),
                     static_cast<int>(ExitCodeOf(status)));
}

}  // namespace broodpact::cli
