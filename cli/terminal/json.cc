#include "cli/terminal/json.h"

#include <fmt/format.h>
#include <google/protobuf/util/json_util.h>

#include "cli/terminal/exit_code.h"
#include "client/base/status.h"

namespace broodpact::cli {

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
  for (const char c : text) {
    if (c == '"' || c == '\\') {
      json += '\\';
      json += c;
    } else if (static_cast<unsigned char>(c) < 0x20) {
      json += fmt::format("\\u{:04x}", static_cast<unsigned>(c));
    } else {
      json += c;
    }
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
