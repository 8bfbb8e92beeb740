#include "client/kinship/order.h"

#include <algorithm>
#include <cstddef>
#include <tuple>
#include <utility>

#include <fmt/ranges.h>

#include "client/base/status.h"

namespace broodpact::kinship {
namespace {

// Who has whom as a parent: the offspring of animal i are from[starts[i]] to from[starts[i + 1]].
// One that has an animal as both parents is listed twice.
struct Offspring {
  std::vector<std::size_t> starts;
  std::vector<Node> from;

  std::span<const Node> Of(Node animal) const {
    return std::span(from).subspan(starts[animal], starts[animal + 1] - starts[animal]);
  }
};

Offspring OffspringOf(std::span<const Parents> animals) {
  Offspring offspring;
  offspring.starts.resize(animals.size() + 1);
  for (const Parents& parents : animals) {
    if (parents.sire != kUnknown) ++offspring.starts[parents.sire + 1];
    if (parents.dam != kUnknown) ++offspring.starts[parents.dam + 1];
  }
  for (std::size_t i = 1; i < offspring.starts.size(); ++i) {
    offspring.starts[i] += offspring.starts[i - 1];
  }
  offspring.from.resize(offspring.starts.back());
  std::vector<std::size_t> next(offspring.starts.begin(), offspring.starts.end() - 1);
  for (std::size_t i = 0; i < animals.size(); ++i) {
    const Parents& parents = animals[i];
    if (parents.sire != kUnknown) offspring.from[next[parents.sire]++] = static_cast<Node>(i);
    if (parents.dam != kUnknown) offspring.from[next[parents.dam]++] = static_cast<Node>(i);
  }
  return offspring;
}

// For each animal, how many of its parents are known.
std::vector<std::uint8_t> KnownParents(std::span<const Parents> animals) {
  std::vector<std::uint8_t> known(animals.size());
  for (std::size_t i = 0; i < animals.size(); ++i) {
    if (animals[i].sire != kUnknown) ++known[i];
    if (animals[i].dam != kUnknown) ++known[i];
  }
  return known;
}

// Sorts one generation by the places of the parents, then by number.
void SortGeneration(std::span<Node> generation, std::span<const Parents> animals,
                    std::span<const Node> places) {
  const auto place_of = [&](Node parent) { return parent == kUnknown ? kUnknown : places[parent]; };
  std::ranges::sort(generation, {}, [&](Node animal) {
    return std::tuple(place_of(animals[animal].sire), place_of(animals[animal].dam), animal);
  });
}

// Animals in their order, all but those on a cycle and their descendants.
struct Places {
  std::vector<Node> order;
  std::vector<std::uint8_t> waiting;  // by number: parents that have no place
};

Places GivePlaces(std::span<const Parents> animals) {
  const Offspring offspring = OffspringOf(animals);
  Places result{.order = {}, .waiting = KnownParents(animals)};
  std::vector<Node>& order = result.order;
  order.reserve(animals.size());
  for (std::size_t i = 0; i < animals.size(); ++i) {
    if (result.waiting[i] == 0) order.push_back(static_cast<Node>(i));
  }

  std::vector<Node> places(animals.size(), kUnknown);
  for (std::size_t begin = 0; begin < order.size();) {
    const std::size_t end = order.size();
    SortGeneration(std::span(order).subspan(begin, end - begin), animals, places);
    for (std::size_t i = begin; i < end; ++i) places[order[i]] = static_cast<Node>(i);
    for (std::size_t i = begin; i < end; ++i) {
      for (const Node child : offspring.Of(order[i])) {
        if (--result.waiting[child] == 0) order.push_back(child);
      }
    }
    begin = end;
  }
  return result;
}

}  // namespace

absl::Status CheckParents(std::span<const Parents> animals) {
  for (std::size_t i = 0; i < animals.size(); ++i) {
    for (const Node parent : {animals[i].sire, animals[i].dam}) {
      if (parent != kUnknown && parent >= animals.size()) {
        return Fail(absl::StatusCode::kInvalidArgument, "PARENT_UNKNOWN",
                    fmt::format("animal {} has the parent {}, but the pedigree ends at {}; add the "
                                "parent or leave it unknown",
                                i, parent, animals.size() - 1));
      }
    }
  }
  return absl::OkStatus();
}

absl::StatusOr<std::vector<Node>> OrderByGeneration(std::span<const Parents> animals) {
  BP_RETURN_IF_ERROR(CheckParents(animals));
  Places places = GivePlaces(animals);
  if (places.order.size() < animals.size()) {
    const std::vector<Node> line = CycleIn(animals);
    return Fail(absl::StatusCode::kInvalidArgument, "PEDIGREE_CYCLE",
                fmt::format("animal {} is its own ancestor, by the line {}; correct a sire or dam "
                            "in it",
                            line.front(), fmt::join(line, ", ")));
  }
  return std::move(places.order);
}

std::vector<Node> CycleIn(std::span<const Parents> animals) {
  const Places places = GivePlaces(animals);
  if (places.order.size() == animals.size()) return {};
  const auto parent_without_place = [&](Node animal) {
    const Parents& parents = animals[animal];
    const bool sire_waits = parents.sire != kUnknown && places.waiting[parents.sire] > 0;
    return sire_waits ? parents.sire : parents.dam;
  };
  auto animal = static_cast<Node>(
      std::ranges::find_if(places.waiting, [](int n) { return n > 0; }) - places.waiting.begin());
  // Every animal without a place has a parent without one: so many steps end on a cycle.
  for (std::size_t step = 0; step < animals.size(); ++step) animal = parent_without_place(animal);
  std::vector<Node> line{animal};
  for (Node at = parent_without_place(animal); at != animal; at = parent_without_place(at)) {
    line.push_back(at);
  }
  std::ranges::rotate(line, std::ranges::min_element(line));
  return line;
}

}  // namespace broodpact::kinship
