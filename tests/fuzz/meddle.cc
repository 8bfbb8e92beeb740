#include "tests/fuzz/meddle.h"

#include <array>
#include <cstdint>
#include <limits>

#include <google/protobuf/descriptor.h>
#include <google/protobuf/stubs/logging.h>

namespace broodpact::fuzz {
namespace {

using google::protobuf::FieldDescriptor;
using google::protobuf::Message;
using google::protobuf::Reflection;

constexpr std::size_t kLearntMax = 256;

// Values at which something may turn.
constexpr std::array<std::int64_t, 12> kEdges = {0,
                                                 1,
                                                 -1,
                                                 2,
                                                 7,
                                                 100,
                                                 1'000,
                                                 1'000'000,
                                                 std::numeric_limits<std::int32_t>::max(),
                                                 std::numeric_limits<std::int32_t>::min(),
                                                 std::numeric_limits<std::int64_t>::max(),
                                                 std::numeric_limits<std::int64_t>::min()};

}  // namespace

Meddler::Meddler() {
  // Text that is none is what a fuzzer makes, and no news.
  google::protobuf::SetLogHandler(nullptr);
}

void Meddler::Learn(const Message& message) {
  const Reflection& reflection = *message.GetReflection();
  std::vector<const FieldDescriptor*> fields;
  reflection.ListFields(message, &fields);
  for (const FieldDescriptor* field : fields) {
    const bool is_message = field->cpp_type() == FieldDescriptor::CPPTYPE_MESSAGE;
    const bool is_bytes = field->cpp_type() == FieldDescriptor::CPPTYPE_STRING;
    if (!is_message && !is_bytes) continue;
    const int count = field->is_repeated() ? reflection.FieldSize(message, field) : 1;
    for (int i = 0; i < count; ++i) {
      if (is_message) {
        Learn(field->is_repeated() ? reflection.GetRepeatedMessage(message, field, i)
                                   : reflection.GetMessage(message, field));
      } else if (learnt_.size() < kLearntMax) {
        learnt_.push_back(field->is_repeated() ? reflection.GetRepeatedString(message, field, i)
                                               : reflection.GetString(message, field));
      }
    }
  }
}

void Meddler::Meddle(Message& message) {
  const google::protobuf::Descriptor& kind = *message.GetDescriptor();
  if (kind.field_count() == 0) return;
  const FieldDescriptor& field = *kind.field(static_cast<int>(Below(kind.field_count())));
  // A member of a oneof that is not set would throw away what is: seldom what is wanted.
  const google::protobuf::OneofDescriptor* choice = field.containing_oneof();
  const Reflection& reflection = *message.GetReflection();
  if (choice != nullptr && reflection.HasOneof(message, choice) && Below(8) != 0) {
    MeddleSingle(message, *reflection.GetOneofFieldDescriptor(message, choice));
  } else if (field.is_repeated()) {
    MeddleRepeated(message, field);
  } else {
    MeddleSingle(message, field);
  }
}

void Meddler::MeddleRepeated(Message& message, const Field& field) {
  const Reflection& reflection = *message.GetReflection();
  const int size = reflection.FieldSize(message, &field);
  const auto any = [&] { return static_cast<int>(Below(static_cast<std::size_t>(size))); };
  if (field.cpp_type() != Field::CPPTYPE_MESSAGE) {
    if (size > 0 && Below(3) == 0) {
      reflection.RemoveLast(&message, &field);
    } else if (field.cpp_type() == Field::CPPTYPE_STRING) {
      reflection.AddString(&message, &field, Bytes({}));
    }
    return;
  }
  switch (size == 0 ? 0 : Below(6)) {
    case 0:
      Meddle(*reflection.AddMessage(&message, &field));
      return;
    case 1:
      reflection.SwapElements(&message, &field, any(), size - 1);
      reflection.RemoveLast(&message, &field);
      return;
    case 2: {
      const int from = any();
      Message& added = *reflection.AddMessage(&message, &field);
      added.CopyFrom(reflection.GetRepeatedMessage(message, &field, from));
      return;
    }
    case 3:
      reflection.SwapElements(&message, &field, any(), any());
      return;
    default:
      Meddle(*reflection.MutableRepeatedMessage(&message, &field, any()));
      return;
  }
}

void Meddler::MeddleSingle(Message& message, const Field& field) {
  const Reflection& reflection = *message.GetReflection();
  if (Below(12) == 0) {
    reflection.ClearField(&message, &field);
  } else if (field.cpp_type() == Field::CPPTYPE_MESSAGE) {
    Meddle(*reflection.MutableMessage(&message, &field));
  } else {
    SetScalar(message, field);
  }
}

void Meddler::SetScalar(Message& message, const Field& field) {
  const Reflection& reflection = *message.GetReflection();
  switch (field.cpp_type()) {
    case Field::CPPTYPE_INT32:
      reflection.SetInt32(&message, &field,
                          static_cast<std::int32_t>(Number(reflection.GetInt32(message, &field))));
      return;
    case Field::CPPTYPE_UINT32:
      reflection.SetUInt32(
          &message, &field,
          static_cast<std::uint32_t>(Number(reflection.GetUInt32(message, &field))));
      return;
    case Field::CPPTYPE_INT64:
      reflection.SetInt64(&message, &field, Number(reflection.GetInt64(message, &field)));
      return;
    case Field::CPPTYPE_UINT64:
      reflection.SetUInt64(&message, &field,
                           static_cast<std::uint64_t>(Number(
                               static_cast<std::int64_t>(reflection.GetUInt64(message, &field)))));
      return;
    case Field::CPPTYPE_BOOL:
      reflection.SetBool(&message, &field, !reflection.GetBool(message, &field));
      return;
    case Field::CPPTYPE_ENUM:
      reflection.SetEnumValue(
          &message, &field,
          static_cast<int>(Below(static_cast<std::size_t>(field.enum_type()->value_count()) + 1)));
      return;
    case Field::CPPTYPE_STRING:
      reflection.SetString(&message, &field, Bytes(reflection.GetString(message, &field)));
      return;
    default:
      return;
  }
}

std::int64_t Meddler::Number(std::int64_t present) {
  const auto bits = static_cast<std::uint64_t>(present);
  switch (Below(4)) {
    case 0:
      return kEdges.at(Below(kEdges.size()));
    case 1:
      return static_cast<std::int64_t>(bits + Below(8));
    case 2:
      return static_cast<std::int64_t>(bits - Below(8));
    default:
      return static_cast<std::int64_t>(Below(400));
  }
}

std::string Meddler::Bytes(const std::string& present) {
  std::string bytes = present;
  if (!learnt_.empty() && Below(4) != 0) {
    // Of the same length: an id for an id.
    for (int tries = 0; tries < 8; ++tries) {
      const std::string& other = learnt_[Below(learnt_.size())];
      if (present.empty() || other.size() == present.size()) return other;
    }
  }
  if (bytes.empty()) return {static_cast<char>(Below(256))};
  bytes[Below(bytes.size())] = static_cast<char>(Below(256));
  return bytes;
}

}  // namespace broodpact::fuzz
