#include "client/registry/encode.h"

#include <array>
#include <cstdint>
#include <type_traits>

#include "client/base/bytes.h"
#include "client/registry/internal/fields.h"

namespace broodpact::registry {
namespace {

// Room for a usual subject, so that the value grows at most once or twice.
constexpr std::size_t kUsualBytes = 224;

// Writes values.
class Putter {
 public:
  explicit Putter(std::string& bytes) : out_(bytes) {}

  template <typename Value>
  void Put(const Value& value) {
    if constexpr (std::is_same_v<Value, bool>) {
      out_.Unsigned(value ? 1 : 0);
    } else if constexpr (std::is_enum_v<Value>) {
      out_.Unsigned(static_cast<std::uint64_t>(value));
    } else if constexpr (std::is_unsigned_v<Value>) {
      out_.Unsigned(value);
    } else if constexpr (std::is_signed_v<Value>) {
      out_.Signed(value);
    } else {
      std::apply([this](const auto&... fields) { (this->Put(fields), ...); }, FieldsOf(value));
    }
  }

  void Put(const std::string& text) { out_.Text(text); }

  void Put(const Day& day) { out_.Signed(day.number); }

  template <std::size_t kSize>
  void Put(const std::array<std::uint8_t, kSize>& bytes) {
    out_.Raw({reinterpret_cast<const char*>(bytes.data()), bytes.size()});
  }

  template <typename IdKind>
  void Put(const Id<IdKind>& id) {
    out_.Name(id);
  }

  template <typename Value>
  void Put(const std::optional<Value>& value) {
    Put(value.has_value());
    if (value.has_value()) Put(*value);
  }

  template <typename Value>
  void Put(const std::vector<Value>& values) {
    out_.Unsigned(values.size());
    for (const Value& value : values) Put(value);
  }

 private:
  ByteWriter out_;
};

template <typename Subject>
std::string EncodeSubject(const Subject& value) {
  std::string bytes;
  bytes.reserve(kUsualBytes);
  Putter out(bytes);
  out.Put(kSubjectFormat);
  out.Put(value);
  return bytes;
}

}  // namespace

std::string KeyText(const SubjectKey& key) {
  std::string text;
  text.reserve(kSubjectKeySize);
  text.push_back(static_cast<char>(key.kind));
  text.append(ViewOf(key.id));
  return text;
}

std::string Encode(const Cooperative& value) {
  return EncodeSubject(value);
}
std::string Encode(const Keeper& value) {
  return EncodeSubject(value);
}
std::string Encode(const Device& value) {
  return EncodeSubject(value);
}
std::string Encode(const Invite& value) {
  return EncodeSubject(value);
}
std::string Encode(const Group& value) {
  return EncodeSubject(value);
}
std::string Encode(const Animal& value) {
  return EncodeSubject(value);
}
std::string Encode(const Loan& value) {
  return EncodeSubject(value);
}
std::string Encode(const Pairing& value) {
  return EncodeSubject(value);
}
std::string Encode(const Clutch& value) {
  return EncodeSubject(value);
}
std::string Encode(const Lot& value) {
  return EncodeSubject(value);
}
std::string Encode(const Clash& value) {
  return EncodeSubject(value);
}
std::string Encode(const Frozen& value) {
  return EncodeSubject(value);
}
std::string Encode(const Veto& value) {
  return EncodeSubject(value);
}
std::string Encode(const Want& value) {
  return EncodeSubject(value);
}
std::string Encode(const Branch& value) {
  return EncodeSubject(value);
}
std::string Encode(const Stretch& value) {
  return EncodeSubject(value);
}
std::string Encode(const Form& value) {
  return EncodeSubject(value);
}
std::string Encode(const Carry& value) {
  return EncodeSubject(value);
}
std::string Encode(const Motion& value) {
  return EncodeSubject(value);
}
std::string Encode(const SealingKey& value) {
  return EncodeSubject(value);
}
std::string Encode(const SealedNote& value) {
  return EncodeSubject(value);
}

}  // namespace broodpact::registry
