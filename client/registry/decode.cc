#include <array>
#include <cstdint>
#include <limits>
#include <type_traits>

#include "client/base/bytes.h"
#include "client/registry/encode.h"
#include "client/registry/internal/fields.h"

namespace broodpact::registry {
namespace {

// Reads values; `ok()` is false for good after the first that cannot be.
class Taker {
 public:
  explicit Taker(std::string_view bytes) : in_(bytes) {}

  bool ok() const { return ok_ && in_.ok(); }
  bool at_end() const { return in_.at_end(); }

  template <typename Value>
  void Take(Value& value) {
    if constexpr (std::is_same_v<Value, bool>) {
      value = TakeUnsigned(1) == 1;
    } else if constexpr (std::is_enum_v<Value>) {
      value = static_cast<Value>(TakeUnsigned(static_cast<std::uint64_t>(LastOf(Value{}))));
    } else if constexpr (std::is_unsigned_v<Value>) {
      value = static_cast<Value>(TakeUnsigned(std::numeric_limits<Value>::max()));
    } else if constexpr (std::is_signed_v<Value>) {
      value = TakeSigned<Value>();
    } else {
      std::apply([this](auto&... fields) { (this->Take(fields), ...); }, FieldsOf(value));
    }
  }

  // A subject whole, or without the last of the fields that were added to it.
  template <typename Subject>
  void TakeSubject(Subject& subject) {
    std::apply(
        [this](auto&... fields) {
          std::size_t left = sizeof...(fields);
          const auto take = [&](auto& field) {
            const bool is_added = left-- <= kFieldsAdded<Subject>;
            if (!is_added || !at_end()) this->Take(field);
          };
          (take(fields), ...);
        },
        FieldsOf(subject));
  }

  void Take(std::string& text) { text = in_.Text(); }

  void Take(Day& day) { day.number = TakeSigned<std::int32_t>(); }

  template <std::size_t kSize>
  void Take(std::array<std::uint8_t, kSize>& bytes) {
    const std::string_view raw = in_.Raw(kSize);
    if (raw.size() != kSize) return;
    for (std::size_t i = 0; i < kSize; ++i) bytes[i] = static_cast<std::uint8_t>(raw[i]);
  }

  template <typename IdKind>
  void Take(Id<IdKind>& id) {
    Take(id.bytes);
  }

  template <typename Value>
  void Take(std::optional<Value>& value) {
    bool present = false;
    Take(present);
    if (present) Take(value.emplace());
  }

  template <typename Value>
  void Take(std::vector<Value>& values) {
    // Every element is an id at least, so that a hostile count reserves little.
    const std::size_t count = in_.Count(sizeof(IdBytes));
    values.reserve(count);
    for (std::size_t i = 0; i < count && ok(); ++i) Take(values.emplace_back());
  }

 private:
  std::uint64_t TakeUnsigned(std::uint64_t max) {
    const std::uint64_t value = in_.Unsigned();
    if (value <= max) return value;
    ok_ = false;
    return 0;
  }

  template <typename Value>
  Value TakeSigned() {
    const std::int64_t value = in_.Signed();
    if (value >= std::numeric_limits<Value>::min() && value <= std::numeric_limits<Value>::max()) {
      return static_cast<Value>(value);
    }
    ok_ = false;
    return 0;
  }

  ByteReader in_;
  bool ok_ = true;
};

}  // namespace

template <typename Subject>
std::optional<Subject> Decode(std::string_view bytes) {
  Taker in(bytes);
  std::uint64_t format = 0;
  in.Take(format);
  if (format != kSubjectFormat) return std::nullopt;
  Subject value;
  in.TakeSubject(value);
  if (!in.ok() || !in.at_end()) return std::nullopt;
  return value;
}

template std::optional<Cooperative> Decode(std::string_view bytes);
template std::optional<Keeper> Decode(std::string_view bytes);
template std::optional<Device> Decode(std::string_view bytes);
template std::optional<Invite> Decode(std::string_view bytes);
template std::optional<Group> Decode(std::string_view bytes);
template std::optional<Animal> Decode(std::string_view bytes);
template std::optional<Loan> Decode(std::string_view bytes);
template std::optional<Pairing> Decode(std::string_view bytes);
template std::optional<Clutch> Decode(std::string_view bytes);
template std::optional<Lot> Decode(std::string_view bytes);
template std::optional<Clash> Decode(std::string_view bytes);
template std::optional<Frozen> Decode(std::string_view bytes);
template std::optional<Veto> Decode(std::string_view bytes);
template std::optional<Want> Decode(std::string_view bytes);
template std::optional<Branch> Decode(std::string_view bytes);
template std::optional<Stretch> Decode(std::string_view bytes);
template std::optional<Form> Decode(std::string_view bytes);
template std::optional<Carry> Decode(std::string_view bytes);
template std::optional<Motion> Decode(std::string_view bytes);
template std::optional<SealingKey> Decode(std::string_view bytes);
template std::optional<SealedNote> Decode(std::string_view bytes);

}  // namespace broodpact::registry
