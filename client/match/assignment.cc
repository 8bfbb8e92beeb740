#include "client/match/assignment.h"

#include <algorithm>
#include <numeric>

#include "client/base/check.h"
#include <lemon/network_simplex.h>
#include <lemon/smart_graph.h>

namespace broodpact::match {
namespace {

using Graph = lemon::SmartDigraph;
using Simplex = lemon::NetworkSimplex<Graph, std::int64_t, std::int64_t>;

void CheckBounds(const Market& market) {
  const std::size_t males = market.male_capacities.size();
  const std::size_t females = market.female_capacities.size();
  BP_CHECK(males <= kMarketMax && females <= kMarketMax);
  BP_CHECK(market.worths.size() == males * females);
  BP_CHECK(market.burdens.empty() || market.burdens.size() == market.worths.size());
  const auto within = [](std::uint32_t capacity) { return capacity <= kCapacityMax; };
  BP_CHECK(std::ranges::all_of(market.male_capacities, within));
  BP_CHECK(std::ranges::all_of(market.female_capacities, within));
}

std::int64_t SumOf(const std::vector<std::uint32_t>& capacities) {
  return std::accumulate(capacities.begin(), capacities.end(), std::int64_t{0});
}

// A burden never outweighs a difference in worth: worths are scaled past all burdens together.
std::int64_t ScaleOf(const Market& market, std::int64_t pairs_max) {
  if (market.burdens.empty()) return 1;
  return 1 + pairs_max * std::ranges::max(market.burdens);
}

// The market as a network: every male gives and every female takes to the full, by way of one more
// node, the rest, where no pair is made.
class Network {
 public:
  explicit Network(const Market& market)
      : market_(market),
        males_(market.male_capacities.size()),
        females_(market.female_capacities.size()) {
    graph_.reserveNode(static_cast<int>(males_ + females_ + 1));
    graph_.reserveArc(static_cast<int>(market.worths.size() + males_ + females_));
    for (std::size_t i = 0; i < males_ + females_ + 1; ++i) graph_.addNode();
    AddPairs();
    for (std::size_t i = 0; i < males_; ++i) AddArc(Male(i), Rest(), 0);
    for (std::size_t j = 0; j < females_; ++j) AddArc(Rest(), Female(j), 0);
  }

  std::vector<Pair> Solve() const {
    Graph::NodeMap<std::int64_t> supplies(graph_);
    for (std::size_t i = 0; i < males_; ++i) supplies[Male(i)] = market_.male_capacities[i];
    for (std::size_t j = 0; j < females_; ++j) {
      supplies[Female(j)] = -std::int64_t{market_.female_capacities[j]};
    }
    supplies[Rest()] = SumOf(market_.female_capacities) - SumOf(market_.male_capacities);
    Graph::ArcMap<std::int64_t> costs(graph_);
    Graph::ArcMap<std::int64_t> most(graph_);
    for (std::size_t i = 0; i < costs_.size(); ++i) {
      costs[Arc(i)] = costs_[i];
      most[Arc(i)] = i < pairs_.size() ? 1 : std::int64_t{kCapacityMax};
    }
    Simplex simplex(graph_);
    simplex.upperMap(most).costMap(costs).supplyMap(supplies);
    // There is always a flow, the one without a pair, and every arc has a bound.
    BP_CHECK(simplex.run() == Simplex::OPTIMAL);
    std::vector<Pair> chosen;
    for (std::size_t i = 0; i < pairs_.size(); ++i) {
      if (simplex.flow(Arc(i)) > 0) chosen.push_back(pairs_[i]);
    }
    return chosen;
  }

 private:
  static Graph::Node NodeAt(std::size_t number) {
    return Graph::nodeFromId(static_cast<int>(number));
  }
  static Graph::Arc Arc(std::size_t number) { return Graph::arcFromId(static_cast<int>(number)); }
  static Graph::Node Male(std::size_t number) { return NodeAt(number); }
  Graph::Node Female(std::size_t number) const { return NodeAt(males_ + number); }
  Graph::Node Rest() const { return NodeAt(males_ + females_); }

  void AddArc(Graph::Node from, Graph::Node to, std::int64_t cost) {
    graph_.addArc(from, to);
    costs_.push_back(cost);
  }

  void AddPairs() {
    const std::int64_t scale = ScaleOf(
        market_, std::min(SumOf(market_.male_capacities), SumOf(market_.female_capacities)));
    for (std::size_t at = 0; at < market_.worths.size(); ++at) {
      const std::int64_t worth = market_.worths[at];
      BP_CHECK(worth <= kPairWorthMax);
      if (worth <= 0) continue;
      const std::int64_t burden = market_.burdens.empty() ? 0 : market_.burdens[at];
      BP_CHECK(burden <= kPairBurdenMax);
      AddArc(Male(at / females_), Female(at % females_), burden - worth * scale);
      pairs_.push_back({.male = static_cast<std::uint32_t>(at / females_),
                        .female = static_cast<std::uint32_t>(at % females_)});
    }
  }

  const Market& market_;
  std::size_t males_;
  std::size_t females_;
  Graph graph_;
  std::vector<Pair> pairs_;          // by arc
  std::vector<std::int64_t> costs_;  // by arc; those of no pair at the end
};

}  // namespace

std::vector<Pair> BestPairs(const Market& market) {
  CheckBounds(market);
  if (market.worths.empty()) return {};
  return Network(market).Solve();
}

}  // namespace broodpact::match
