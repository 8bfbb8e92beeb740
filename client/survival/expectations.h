#pragma once

// What the trade expects, where the cooperative's own data say nothing yet: ranges with their
// sources, as a table that anyone can read and edit. Shown as a prior, and never a limit.
//
// The table is data/expectations.tsv, whose head says how it is written; it is part of the program,
// and a keeper's own copy takes its place. Where sources for one taxon disagree, the range spans
// them and all are named.
//
// Pure. Floating point: nothing that replicas must agree on may depend on it.

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/statusor.h"

namespace broodpact::survival {

enum class Expected : std::uint8_t { kMaleLife, kLaying, kViableSac };

// How far a source is to be trusted, the better first.
enum class Trust : std::uint8_t { kPublished, kPractice, kUnchecked, kFromMemory };

// A range from the table: days for times, 0 .. 1 for shares.
struct Prior {
  double low = 0;
  double high = 0;
  Trust trust = Trust::kFromMemory;  // of the least trusted source in it
  std::string taxon{};               // as the table has it: "*", a genus or a species
  std::string sources{};             // all of them, in the order of the table

  friend bool operator==(const Prior&, const Prior&) = default;
};

class Expectations {
 public:
  // Reads a table.
  // Errors: INVALID_ARGUMENT with reason EXPECTATIONS_FORM; the message names the line.
  static absl::StatusOr<Expectations> Parse(std::string_view text);

  // The table that is part of the program.
  static const Expectations& Shipped();

  // What is expected for a taxon: of its species, else of its genus (the first word), else of all.
  // Nothing where the table has none of these.
  std::optional<Prior> Of(Expected what, std::string_view taxon) const;

 private:
  struct Line {
    Expected what = Expected::kMaleLife;
    std::string taxon{};
    double low = 0;
    double high = 0;
    Trust trust = Trust::kFromMemory;
    std::string source{};
  };

  // Reads one line, which is neither empty nor a remark.
  static absl::StatusOr<Line> ReadLine(std::string_view text, std::size_t number);

  std::vector<Line> lines_;
};

// "published", "practice", "unchecked", "from memory".
std::string_view ToText(Trust trust);

// The first word of a taxon.
std::string_view GenusOf(std::string_view taxon);

}  // namespace broodpact::survival
