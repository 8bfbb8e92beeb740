#pragma once

// Faults planted on purpose, to see that the simulation finds them. None of them is in the program:
// each is done to it from outside.

#include <array>
#include <cstdint>
#include <string_view>
#include <utility>

namespace broodpact::simulation {

enum class Planted : std::uint8_t {
  kNone,
  kServerForgets,   // after a crash the server is without its last acknowledged group
  kServerDiskLies,  // says that it has synced, and has not
  kKeeperDiskLies,
  kDoorOpen,             // what a stranger signed gets into the log
  kArrivalSkipped,       // a replica's state lacks what one arrival did
  kFoldSwapped,          // two arrivals are folded in the other order
  kRangesSwapped,        // a relay swaps ranges, always
  kRangesLost,           // a relay loses every other range
  kPendingForgotten,     // a replica loses an undelivered commit at a restart
  kFirstTimesForgotten,  // nobody proves when something had arrived that was lost
  kVerdictChanged,       // a final verdict becomes another
  kIndexEntryLost,       // an entry of the index is gone
  kSlingCreated,         // a clutch has a sling more
  kOwnershipDoubled,     // a spent ownership is unspent
  kCountedTwice,         // one commit counts at two arrivals
};

inline constexpr std::array<std::pair<Planted, std::string_view>, 16> kPlantedNames = {
    {{Planted::kNone, "none"},
     {Planted::kServerForgets, "server-forgets"},
     {Planted::kServerDiskLies, "server-disk-lies"},
     {Planted::kKeeperDiskLies, "keeper-disk-lies"},
     {Planted::kDoorOpen, "door-open"},
     {Planted::kArrivalSkipped, "arrival-skipped"},
     {Planted::kFoldSwapped, "fold-swapped"},
     {Planted::kRangesSwapped, "ranges-swapped"},
     {Planted::kRangesLost, "ranges-lost"},
     {Planted::kPendingForgotten, "pending-forgotten"},
     {Planted::kFirstTimesForgotten, "first-times-forgotten"},
     {Planted::kVerdictChanged, "verdict-changed"},
     {Planted::kIndexEntryLost, "index-entry-lost"},
     {Planted::kSlingCreated, "sling-created"},
     {Planted::kOwnershipDoubled, "ownership-doubled"},
     {Planted::kCountedTwice, "counted-twice"}}};

}  // namespace broodpact::simulation
