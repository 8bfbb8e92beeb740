#pragma once

// The kinds of subject, where in the log something came in, and who is in the cooperative: its
// keepers, their devices, the invites that let them in, and the motions that several decide.
//
// Order of members is the order of the encoding (encode.h).

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <string>
#include <vector>

#include "client/base/hash.h"
#include "client/base/id.h"
#include "client/base/signature.h"
#include "client/facts/statement.h"

namespace broodpact::registry {

// The kinds of subject, as the first byte of their key. Never reused.
enum class Kind : std::uint8_t {
  kCooperative = 1,
  kKeeper = 2,
  kDevice = 3,
  kInvite = 4,
  kGroup = 5,
  kAnimal = 6,
  kLoan = 7,
  kPairing = 8,
  kClutch = 9,
  kLot = 10,
  kClash = 11,
  kFrozen = 12,  // named by a statement of a newer kind; read-only
  kForm = 20,    // terms under a name
  kCarry = 21,   // what carries over between the same parties at the same ratio
  kVeto = 24,
  kWant = 25,
  kBranch = 30,      // a commit that lost its place in its chain, and was stated again
  kStretch = 31,     // of a chain: which of its commits count
  kMotion = 40,      // a role, or a registrar's device, about which several keepers sign
  kSealingKey = 50,  // of a device
  kSealedNote = 51,
};

// The highest of them: up to here a walk over all kinds goes, and bytes are read as one.
inline constexpr Kind kKindLast = Kind::kSealedNote;

// Spent ownerships, and spent holdings, that an animal keeps. A token older than these is answered
// as one that never was: superseded, without naming what beat it.
inline constexpr std::size_t kCustodiesKept = 64;

// Records in any one list of a subject. Beyond it a statement is refused: no animal moults so
// often, and every change of a subject costs what the subject is long.
inline constexpr std::size_t kRecordsMax = 4'096;

// Places of a chain in one stretch: what a commit adds to the state is bounded by it.
inline constexpr std::uint64_t kStretchPlaces = 32;

// Devices of one keeper, those that ceased included.
inline constexpr std::size_t kDevicesMax = 64;

// Settlements of one clash that one keeper proposes.
inline constexpr std::size_t kSettlementsOfOneMax = 4;

// Where in the log something came in, and when: the first time, where it arrived again after the
// server had lost it. So times may go back where arrivals go on. Arrival 0 and the author's clock
// while provisional.
struct Entry {
  std::uint64_t arrival = 0;
  std::int64_t time_ms = 0;
  KeeperId keeper{};  // who stated it

  friend bool operator==(const Entry&, const Entry&) = default;
};

struct Cooperative {
  static constexpr Kind kKind = Kind::kCooperative;
  Hash id{};
  std::string name{};
  Entry entry{};
  // How many there are of each.
  std::uint64_t keepers = 0, groups = 0, animals = 0, loans = 0, clutches = 0;
  std::uint64_t frozen = 0;  // subjects held still; while 0, nobody has to look for them
  // Keepers who have a device: registrars, and all who are no observers. Motions are counted by
  // them.
  std::uint64_t registrars = 0, voters = 0;

  friend bool operator==(const Cooperative&, const Cooperative&) = default;
};

struct Keeper {
  static constexpr Kind kKind = Kind::kKeeper;
  KeeperId id{};
  std::string name{};
  facts::Role role = facts::Role::kKeeper;
  std::string region{};
  std::vector<DeviceId> devices{};
  KeeperId successor{};  // who acts for it: named by itself, or for when it is gone
  Entry succession{};    // by whom that was said
  Entry entry{};
  Entry left{};  // when it left; arrival and time 0: it did not
  bool has_left = false;
  std::string leaving_reason{};
  Entry role_change{};  // when the role was last changed; as entered otherwise

  friend bool operator==(const Keeper&, const Keeper&) = default;
};

enum class DeviceState : std::uint8_t {
  kActive = 1,
  kRevoked = 2,   // cut off by its keeper, a registrar or a motion
  kReplaced = 3,  // another key took its place
  kLeft = 4,      // its keeper left
};

// Where a chain ends: its last commit that counts. Seq 0: what had arrived when it was said.
struct ChainCut {
  std::uint32_t incarnation = 0;
  std::uint64_t seq = 0;
  Hash hash{};

  friend bool operator==(const ChainCut&, const ChainCut&) = default;
};

struct Device {
  static constexpr Kind kKind = Kind::kDevice;
  DeviceId id{};
  PublicKey key{};
  KeeperId keeper{};
  Entry entry{};
  std::string label{};
  DeviceId admitted_by{};  // the device that invited it, or whose place it took; empty: none
  DeviceState state = DeviceState::kActive;
  ChainCut cut{};               // of one that is not active
  std::vector<Hash> awaited{};  // commits up to the cut that count though they arrive later
  DeviceId successor{};         // that took its place
  std::string reason{};
  Entry ended{};  // by what it is not active any more

  friend bool operator==(const Device&, const Device&) = default;
};

struct Invite {
  static constexpr Kind kKind = Kind::kInvite;
  InviteId id{};
  PublicKey key{};
  facts::Role role = facts::Role::kKeeper;
  DeviceId spent_by{};  // empty: open
  std::uint64_t spent_arrival = 0;
  Entry entry{};
  KeeperId keeper{};  // whose further device it lets in; empty: a newcomer
  DeviceId device{};  // that made it
  std::string label{};

  friend bool operator==(const Invite&, const Invite&) = default;
};

enum class MotionMatter : std::uint8_t { kRole = 1, kRevocation = 2 };
enum class MotionState : std::uint8_t { kOpen = 1, kCarried = 2 };

// A keeper's signature under something.
struct SignatureRecord {
  KeeperId keeper{};
  Entry entry{};

  friend bool operator==(const SignatureRecord&, const SignatureRecord&) = default;
};

// Whether a keeper's signature is among those under something.
inline bool HasSigned(const std::vector<SignatureRecord>& signatures, const KeeperId& keeper) {
  return std::ranges::find(signatures, keeper, &SignatureRecord::keeper) != signatures.end();
}

// A change that one keeper alone cannot bring about: it waits for enough signatures.
struct Motion {
  static constexpr Kind kKind = Kind::kMotion;
  MotionId id{};  // first half of SHA-256(hash of the commit that stated it, "motion", target)
  MotionMatter what = MotionMatter::kRole;
  KeeperId keeper{};  // whom it is about
  facts::Role role = facts::Role::kUnspecified;
  DeviceId device{};  // of a revocation, with what it says
  ChainCut cut{};
  std::vector<Hash> awaited{};
  std::string reason{};
  std::vector<SignatureRecord> signatures{};  // in order of arrival, the mover's first
  MotionState state = MotionState::kOpen;
  Entry carried{};
  Entry entry{};

  friend bool operator==(const Motion&, const Motion&) = default;
};

}  // namespace broodpact::registry
