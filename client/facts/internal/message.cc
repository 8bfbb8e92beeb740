#include "client/facts/internal/message.h"

#include <algorithm>
#include <map>

#include <fmt/format.h>
#include <google/protobuf/descriptor.h>
#include <google/protobuf/stubs/logging.h>
#include <google/protobuf/unknown_field_set.h>

#include "client/base/text.h"

namespace broodpact::facts::internal {
namespace {

using google::protobuf::Descriptor;
using google::protobuf::FieldDescriptor;
using google::protobuf::UnknownField;
using google::protobuf::UnknownFieldSet;

// Our messages nest four deep. What nests deeper is not ours.
constexpr int kDepthMax = 8;

// A field in words; of a repeated one, whose name is a plural, the element with this number.
std::string WordsOf(const FieldDescriptor& field, int number) {
  std::string words = field.name();
  std::replace(words.begin(), words.end(), '_', ' ');
  if (!field.is_repeated()) return words;
  words.pop_back();
  return fmt::format("{} {}", words, number);
}

// The first string field in `bytes`, a message of `type`, that is not UTF-8. Empty if none is.
std::string MalformedText(std::string_view bytes, const Descriptor& type, int depth) {
  UnknownFieldSet fields;
  const int size = static_cast<int>(bytes.size());
  if (depth > kDepthMax || !fields.ParseFromArray(bytes.data(), size)) return "";
  std::map<int, int> seen;  // field number -> how many of it so far
  for (int i = 0; i < fields.field_count(); ++i) {
    const UnknownField& field = fields.field(i);
    const FieldDescriptor* const known = type.FindFieldByNumber(field.number());
    if (known == nullptr || field.type() != UnknownField::TYPE_LENGTH_DELIMITED) continue;
    const std::string& value = field.length_delimited();
    const int number = ++seen[field.number()];
    if (known->type() == FieldDescriptor::TYPE_STRING && !IsUtf8(value)) {
      return WordsOf(*known, number);
    }
    if (known->type() != FieldDescriptor::TYPE_MESSAGE) continue;
    const std::string within = MalformedText(value, *known->message_type(), depth + 1);
    if (!within.empty()) return fmt::format("{}, {}", WordsOf(*known, number), within);
  }
  return "";
}

}  // namespace

std::optional<MessageFault> ReadMessage(std::string_view bytes,
                                        google::protobuf::Message& message) {
  const google::protobuf::LogSilencer silence;
  if (message.ParseFromArray(bytes.data(), static_cast<int>(bytes.size()))) return std::nullopt;
  return MessageFault{.text_at = MalformedText(bytes, *message.GetDescriptor(), 0)};
}

}  // namespace broodpact::facts::internal
