#pragma once

// Subjects as bytes: one value, one form (base/bytes.h), so that replicas at the same place in the
// log hold equal bytes. Each value begins with a format number, so that a later version reads what
// an earlier one wrote.

#include <optional>
#include <string>
#include <string_view>

#include "client/registry/subject.h"

namespace broodpact::registry {

// The key of a subject: its kind, then its 16 bytes.
struct SubjectKey {
  Kind kind = Kind::kCooperative;
  IdBytes id{};

  friend auto operator<=>(const SubjectKey&, const SubjectKey&) = default;
};

inline constexpr std::size_t kSubjectKeySize = 17;
std::string KeyText(const SubjectKey& key);

// Key of the one Cooperative.
inline constexpr SubjectKey kCooperativeKey{Kind::kCooperative, {}};

// Encode: a subject as bytes. Decode: nothing if the bytes are not a subject of that kind.
// Decode(Encode(x)) == x, and Encode gives equal bytes for equal values.
std::string Encode(const Cooperative& value);
std::string Encode(const Keeper& value);
std::string Encode(const Device& value);
std::string Encode(const Invite& value);
std::string Encode(const Group& value);
std::string Encode(const Animal& value);
std::string Encode(const Loan& value);
std::string Encode(const Pairing& value);
std::string Encode(const Clutch& value);
std::string Encode(const Lot& value);
std::string Encode(const Clash& value);
std::string Encode(const Frozen& value);
std::string Encode(const Veto& value);
std::string Encode(const Want& value);
std::string Encode(const SealingKey& value);
std::string Encode(const SealedNote& value);
std::string Encode(const Branch& value);
std::string Encode(const Stretch& value);
std::string Encode(const Form& value);
std::string Encode(const Carry& value);
std::string Encode(const Motion& value);

template <typename Subject>
std::optional<Subject> Decode(std::string_view bytes);

}  // namespace broodpact::registry
