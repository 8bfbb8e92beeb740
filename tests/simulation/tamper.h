#pragma once

// Planted faults that are done to files: what a bug would leave behind.

#include <filesystem>

namespace broodpact::simulation {

class World;

// A database without its newest undelivered commit. No process has it open.
void ForgetPending(const std::filesystem::path& database);

// What is planted before the invariants are looked at (Planted), if anything.
void TamperAtEnd(World& world);

}  // namespace broodpact::simulation
