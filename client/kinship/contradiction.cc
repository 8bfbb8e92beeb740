#include "client/kinship/contradiction.h"

#include <cstddef>
#include <utility>

#include "client/kinship/order.h"

namespace broodpact::kinship {
namespace {

// Whether it is certain that the first was after the second.
bool IsAfter(const std::optional<DaySpan>& first, const std::optional<DaySpan>& second) {
  return first && second && first->earliest > second->latest;
}

}  // namespace

std::vector<Contradiction> ContradictionsIn(std::span<const Parents> animals,
                                            std::span<const Life> lives) {
  std::vector<Contradiction> found;
  if (std::vector<Node> line = CycleIn(animals); !line.empty()) {
    const Node animal = line.front();
    found.push_back({.fault = Fault::kOwnAncestor, .animal = animal, .line = std::move(line)});
  }
  for (std::size_t i = 0; i < animals.size(); ++i) {
    const auto animal = static_cast<Node>(i);
    const auto& [sire, dam] = animals[i];
    if (sire != kUnknown && lives[sire].sex == Sex::kFemale) {
      found.push_back({.fault = Fault::kFemaleAsSire, .animal = animal, .parent = sire});
    }
    if (dam != kUnknown && lives[dam].sex == Sex::kMale) {
      found.push_back({.fault = Fault::kMaleAsDam, .animal = animal, .parent = dam});
    }
    for (const Node parent : {sire, dam}) {
      if (parent == kUnknown || !IsAfter(lives[parent].hatching, lives[i].hatching)) continue;
      found.push_back({.fault = Fault::kParentHatchedAfter, .animal = animal, .parent = parent});
    }
    if (IsAfter(lives[i].hatching, lives[i].maturity)) {
      found.push_back({.fault = Fault::kMaturedBeforeHatching, .animal = animal});
    }
    if (IsAfter(lives[i].hatching, lives[i].death)) {
      found.push_back({.fault = Fault::kDiedBeforeHatching, .animal = animal});
    }
  }
  return found;
}

}  // namespace broodpact::kinship
