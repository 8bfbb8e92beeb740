#include "client/kinship/layout.h"

#include <algorithm>
#include <cstddef>
#include <map>

namespace broodpact::kinship {
namespace {

constexpr int kSweeps = 4;  // more of them hardly move anything in charts of a page

// A box, or the place where a line passes a layer.
struct Place {
  std::int32_t layer = 0;  // 0 is the top
  std::int32_t width = 0;
  std::int32_t x = 0;  // left end
  std::vector<std::size_t> above{};
  std::vector<std::size_t> below{};

  std::int32_t middle() const { return x + width / 2; }
};

class Drawing {
 public:
  Drawing(std::span<const LayoutNode> nodes, const Spacing& spacing)
      : nodes_(nodes), spacing_(spacing) {}

  Layout Draw() {
    AddBoxes();
    AddLines();
    for (int sweep = 0; sweep < kSweeps; ++sweep) {
      for (std::size_t i = layers_.size(); i-- > 0;) Arrange(layers_[i], &Place::below);
      for (std::vector<std::size_t>& layer : layers_) Arrange(layer, &Place::above);
    }
    for (std::size_t i = layers_.size(); i-- > 0;) Arrange(layers_[i], &Place::below);
    return Finish();
  }

 private:
  void AddBoxes() {
    std::int32_t oldest = 0;
    std::int32_t youngest = 0;
    for (std::size_t i = 0; i < nodes_.size(); ++i) {
      oldest = i == 0 ? nodes_[i].generation : std::max(oldest, nodes_[i].generation);
      youngest = i == 0 ? nodes_[i].generation : std::min(youngest, nodes_[i].generation);
    }
    if (!nodes_.empty()) layers_.resize(static_cast<std::size_t>(oldest - youngest) + 1);
    for (const LayoutNode& node : nodes_) Add(oldest - node.generation, node.width);
  }

  std::size_t Add(std::int32_t layer, std::int32_t width) {
    places_.push_back({.layer = layer, .width = width});
    layers_[static_cast<std::size_t>(layer)].push_back(places_.size() - 1);
    return places_.size() - 1;
  }

  void Link(std::size_t child, std::size_t parent) {
    places_[child].above.push_back(parent);
    places_[parent].below.push_back(child);
  }

  // A line that passes layers has a place in each of them.
  void AddLines() {
    for (std::size_t i = 0; i < nodes_.size(); ++i) {
      for (const Node parent : {nodes_[i].parents.sire, nodes_[i].parents.dam}) {
        if (parent == kUnknown) continue;
        std::vector<std::size_t> way{i};
        for (std::int32_t layer = places_[i].layer - 1; layer > places_[parent].layer; --layer) {
          way.push_back(Add(layer, spacing_.line_width));
        }
        way.push_back(parent);
        for (std::size_t k = 1; k < way.size(); ++k) Link(way[k - 1], way[k]);
        ways_.push_back(std::move(way));
      }
    }
  }

  // Orders a layer by where what it is linked to lies, and moves each as near to it as the one
  // before lets it.
  void Arrange(std::vector<std::size_t>& layer, std::vector<std::size_t> Place::*links) {
    const auto wish = [&](std::size_t at) {
      const Place& place = places_[at];
      const std::vector<std::size_t>& linked = place.*links;
      if (linked.empty()) return place.middle();
      std::int64_t sum = 0;
      for (const std::size_t other : linked) sum += places_[other].middle();
      return static_cast<std::int32_t>(sum / static_cast<std::int64_t>(linked.size()));
    };
    std::map<std::size_t, std::int32_t> wishes;
    for (const std::size_t at : layer) wishes[at] = wish(at);
    std::ranges::stable_sort(layer, {}, [&](std::size_t at) { return wishes[at]; });
    std::int64_t drift = 0;  // by how much all together came to lie too far right
    std::int32_t end = 0;
    for (std::size_t k = 0; k < layer.size(); ++k) {
      Place& place = places_[layer[k]];
      const std::int32_t wished = wishes[layer[k]] - place.width / 2;
      place.x = k == 0 ? wished : std::max(wished, end + spacing_.gap);
      end = place.x + place.width;
      drift += place.x - wished;
    }
    if (layer.empty()) return;
    const auto shift = static_cast<std::int32_t>(drift / static_cast<std::int64_t>(layer.size()));
    for (const std::size_t at : layer) places_[at].x -= shift;
  }

  std::int32_t TopOf(const Place& place) const {
    return place.layer * (spacing_.height + spacing_.layer_gap);
  }

  Layout Finish() {
    Layout layout;
    std::int32_t left = 0;
    for (std::size_t i = 0; i < places_.size(); ++i) {
      left = i == 0 ? places_[i].x : std::min(left, places_[i].x);
    }
    for (Place& place : places_) {
      place.x -= left;
      layout.width = std::max(layout.width, place.x + place.width);
      layout.height = std::max(layout.height, TopOf(place) + spacing_.height);
    }
    for (std::size_t i = 0; i < nodes_.size(); ++i) {
      layout.corners.push_back({.x = places_[i].x, .y = TopOf(places_[i])});
    }
    for (const std::vector<std::size_t>& way : ways_) layout.lines.push_back(LineOf(way));
    return layout;
  }

  // Between layers a line goes from one middle to the next; through a layer it goes straight up.
  LayoutLine LineOf(const std::vector<std::size_t>& way) const {
    LayoutLine line{.child = static_cast<Node>(way.front()),
                    .parent = static_cast<Node>(way.back())};
    for (std::size_t k = 0; k < way.size(); ++k) {
      const Place& place = places_[way[k]];
      const std::int32_t top = TopOf(place);
      if (k > 0) line.points.push_back({.x = place.middle(), .y = top + spacing_.height});
      if (k + 1 < way.size()) line.points.push_back({.x = place.middle(), .y = top});
    }
    return line;
  }

  std::span<const LayoutNode> nodes_;
  const Spacing& spacing_;
  std::vector<Place> places_;  // nodes first, in their order
  std::vector<std::vector<std::size_t>> layers_;
  std::vector<std::vector<std::size_t>> ways_;  // of each line, from child to parent
};

}  // namespace

Layout LayoutOf(std::span<const LayoutNode> nodes, const Spacing& spacing) {
  return Drawing(nodes, spacing).Draw();
}

}  // namespace broodpact::kinship
