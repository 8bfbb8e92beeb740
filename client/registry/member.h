#pragma once

// The kinds of subject, where in the log something came in, and who is in the cooperative: its
// keepers, their devices and the invites that let them in.
//
// Order of members is the order of the encoding (encode.h).

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
  kBranch = 30,  // a commit that lost its place in its chain, and was stated again
};

// Spent ownerships, and spent holdings, that an animal keeps. A token older than these is answered
// as one that never was: superseded, without naming what beat it.
inline constexpr std::size_t kCustodiesKept = 64;

// Records in any one list of a subject. Beyond it a statement is refused: no animal moults so
// often, and every change of a subject costs what the subject is long.
inline constexpr std::size_t kRecordsMax = 4'096;

// Settlements proposed for one clash.
inline constexpr std::size_t kSettlementsMax = 16;

// Where in the log something came in. Arrival 0 and the author's clock while provisional.
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

  friend bool operator==(const Cooperative&, const Cooperative&) = default;
};

struct Keeper {
  static constexpr Kind kKind = Kind::kKeeper;
  KeeperId id{};
  std::string name{};
  facts::Role role = facts::Role::kKeeper;
  std::string region{};
  std::vector<DeviceId> devices{};
  KeeperId successor{};  // who acts for it since it left
  Entry succession{};    // by whom that was said
  Entry entry{};

  friend bool operator==(const Keeper&, const Keeper&) = default;
};

struct Device {
  static constexpr Kind kKind = Kind::kDevice;
  DeviceId id{};
  PublicKey key{};
  KeeperId keeper{};
  Entry entry{};

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

  friend bool operator==(const Invite&, const Invite&) = default;
};

}  // namespace broodpact::registry
