#pragma once

// What the options that many commands have say in their help.

namespace broodpact::cli {

inline constexpr char kOnHelp[] = "Day it happened, as 2026-11-25 (default: today)";
inline constexpr char kWhichLot[] = "Lot, by id; lot list has them";

}  // namespace broodpact::cli
