#pragma once

// How large a population is in the sense of drift.
//
// Source: Wright, "Evolution in Mendelian populations", Genetics 16 (1931) 97-159; Crow & Kimura,
// An Introduction to Population Genetics Theory (1970).

#include <cstdint>
#include <span>

namespace broodpact::kinship {

// 4 Nm Nf / (Nm + Nf) for so many breeding males and females; 0 without one of either.
double EffectiveSizeOfSexes(double males, double females);

// Harmonic mean of the sizes of generations, each above 0; 0 for none.
double EffectiveSizeOverGenerations(std::span<const double> sizes);

// Growth of inbreeding in one generation, 1 / (2 Ne). `size` is above 0.
double InbreedingRate(double size);

// Part of the heterozygosity that is left after so many generations, (1 - 1 / (2 Ne))^t. `size` is
// above 0.
double HeterozygosityLeft(double size, std::uint32_t generations);

}  // namespace broodpact::kinship
