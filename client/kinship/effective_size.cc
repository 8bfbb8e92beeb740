#include "client/kinship/effective_size.h"

namespace broodpact::kinship {

double EffectiveSizeOfSexes(double males, double females) {
  return males > 0 && females > 0 ? 4 * males * females / (males + females) : 0;
}

double EffectiveSizeOverGenerations(std::span<const double> sizes) {
  double sum = 0;
  for (const double size : sizes) sum += 1 / size;
  return sizes.empty() ? 0 : static_cast<double>(sizes.size()) / sum;
}

double InbreedingRate(double size) {
  return 1 / (2 * size);
}

// Multiplied out, because pow differs between C libraries in the last digit.
double HeterozygosityLeft(double size, std::uint32_t generations) {
  double left = 1;
  for (std::uint32_t i = 0; i < generations; ++i) left *= 1 - InbreedingRate(size);
  return left;
}

}  // namespace broodpact::kinship
