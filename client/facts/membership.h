#pragma once

// Statements about who is a member, by which devices, and what a device has kept for itself, as
// values: part of statement.h.

#include <cstddef>
#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "client/base/day.h"
#include "client/base/hash.h"
#include "client/base/id.h"
#include "client/base/signature.h"

namespace broodpact::facts {

struct Commit;  // commit.h

enum class Role : std::uint8_t { kUnspecified = 0, kKeeper = 1, kRegistrar = 2, kObserver = 3 };

// Commits that a revocation awaits at most.
inline constexpr std::size_t kAwaitedMax = 256;

struct Founding {
  std::string name{};
  KeeperId keeper{};
  std::string keeper_name{};
  PublicKey device_key{};
  std::string region{};

  friend bool operator==(const Founding&, const Founding&) = default;
};
struct Invitation {
  PublicKey invite_key{};
  Role role = Role::kKeeper;
  std::string keeper_name{};

  friend bool operator==(const Invitation&, const Invitation&) = default;
};
struct Joining {
  PublicKey invite_key{};
  KeeperId keeper{};
  std::string keeper_name{};
  PublicKey device_key{};
  Signature invite_signature{};
  std::string region{};

  friend bool operator==(const Joining&, const Joining&) = default;
};
struct DeviceInvitation {
  PublicKey invite_key{};
  KeeperId keeper{};
  std::string label{};

  friend bool operator==(const DeviceInvitation&, const DeviceInvitation&) = default;
};
struct DeviceJoining {
  PublicKey invite_key{};
  KeeperId keeper{};
  PublicKey device_key{};
  Signature invite_signature{};

  friend bool operator==(const DeviceJoining&, const DeviceJoining&) = default;
};
struct Revocation {
  DeviceId device{};
  std::uint32_t incarnation = 0;  // place of the last commit that counts
  std::uint64_t seq = 0;
  Hash hash{};
  std::vector<Hash> awaited{};  // up to it, and not arrived yet
  std::string reason{};

  friend bool operator==(const Revocation&, const Revocation&) = default;
};
struct Adoption {
  std::string commit{};  // the bytes that were signed
  Signature signature{};
  std::shared_ptr<const Commit> told{};  // the commit, read; never absent after parsing

  // `told` follows from the bytes.
  friend bool operator==(const Adoption& a, const Adoption& b) {
    return a.commit == b.commit && a.signature == b.signature;
  }
};
struct KeyRotation {
  PublicKey device_key{};
  Signature key_signature{};

  friend bool operator==(const KeyRotation&, const KeyRotation&) = default;
};
struct RoleChange {
  KeeperId keeper{};
  Role role = Role::kUnspecified;
  std::string reason{};

  friend bool operator==(const RoleChange&, const RoleChange&) = default;
};
struct MotionSignature {
  MotionId motion{};

  friend bool operator==(const MotionSignature&, const MotionSignature&) = default;
};
struct Leaving {
  std::string reason{};

  friend bool operator==(const Leaving&, const Leaving&) = default;
};
struct LeaseTaking {
  LeaseId lease{};
  AnimalId animal{};  // with one token or both; or
  Token owner_token{};
  Token holder_token{};
  LotId lot{};  // with a number of slings
  std::uint32_t slings = 0;
  Day until{};  // the last day

  friend bool operator==(const LeaseTaking&, const LeaseTaking&) = default;
};
struct LeaseRelease {
  LeaseId lease{};
  AnimalId animal{};  // or
  LotId lot{};

  friend bool operator==(const LeaseRelease&, const LeaseRelease&) = default;
};

}  // namespace broodpact::facts
