#pragma once

// Which kinds of statement say who is a member, with which device, and in which role.

#include <variant>

#include "client/facts/statement.h"

namespace broodpact::facts {

using MembershipKinds = std::variant<Founding, Invitation, Joining, DeviceInvitation, DeviceJoining,
                                     Revocation, KeyRotation, RoleChange, MotionSignature, Leaving>;

// Of a Restatement or an Adoption, what it tells decides; ask that.
template <typename Kind>
inline constexpr bool kIsOfMembership = kIsOneOf<Kind, MembershipKinds>;

inline bool IsOfMembership(const Statement& statement) {
  return std::visit([]<typename Kind>(const Kind&) { return kIsOfMembership<Kind>; }, statement);
}

}  // namespace broodpact::facts
