#pragma once

// A breeding group: what it is called, into what it was merged, and how close its founders are
// taken to be.

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "client/base/day.h"
#include "client/base/id.h"
#include "client/facts/statement.h"
#include "client/registry/member.h"

namespace broodpact::registry {

// One use of a name for the concept behind a group.
struct NameRecord {
  std::string name{};
  facts::NameStatus status = facts::NameStatus::kUnspecified;
  std::optional<DaySpan> since{};
  std::string source{};
  Entry entry{};

  friend bool operator==(const NameRecord&, const NameRecord&) = default;
};

// How close founders of a group are taken to be: a fraction, 0 .. 1/2.
struct FounderRecord {
  std::uint32_t numerator = 0;
  std::uint32_t denominator = 1;
  std::string reason{};
  Entry entry{};

  friend bool operator==(const FounderRecord&, const FounderRecord&) = default;
};

struct Group {
  static constexpr Kind kKind = Kind::kGroup;
  GroupId id{};
  std::string name{};
  std::string taxon{};  // by the latest accepted name, else as entered
  std::string locality{};
  std::string line{};
  Entry entry{};
  std::vector<NameRecord> names{};  // in order of arrival
  GroupId successor{};              // that it was merged into; empty: it is open
  std::string closure_reason{};
  Entry closure{};
  std::vector<FounderRecord> founder_kinships{};  // in order of arrival: the last one stands

  friend bool operator==(const Group&, const Group&) = default;
};

}  // namespace broodpact::registry
