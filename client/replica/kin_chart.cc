#include "client/replica/kin_chart.h"

#include <algorithm>
#include <map>
#include <set>
#include <vector>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/registry/interval.h"
#include "client/replica/internal/bulk.h"
#include "client/replica/internal/lineage.h"
#include "client/replica/internal/ref_book.h"
#include "client/replica/internal/words.h"

namespace broodpact::replica {
namespace {

using kinship::kUnknown;
using kinship::Node;

// A clutch of the animal that is asked for.
struct OwnClutch {
  registry::Clutch clutch{};
  std::vector<AnimalId> sires{};
};

// What is read before anything is drawn.
struct Family {
  registry::Animal self{};
  std::optional<registry::Clutch> from{};  // that it was raised from
  std::vector<registry::Animal> mates{};   // with whom it has clutches, in order of id
  std::vector<OwnClutch> clutches{};
};

absl::StatusOr<std::vector<OwnClutch>> ClutchesOfFemale(const registry::Source& source,
                                                        const registry::Animal& female) {
  std::vector<OwnClutch> result;
  BP_ASSIGN_OR_RETURN(auto clutches, ReadMany<registry::Clutch>(source, female.clutches));
  BP_ASSIGN_OR_RETURN(const auto pairings, ReadMany<registry::Pairing>(source, female.pairings));
  for (registry::Clutch& clutch : clutches) {
    std::vector<AnimalId> sires = registry::PossibleSires(female, clutch.laying, pairings);
    result.push_back({.clutch = std::move(clutch), .sires = std::move(sires)});
  }
  return result;
}

// A male's clutches are those of the females that he was paired with, where he may be the sire.
absl::StatusOr<std::vector<OwnClutch>> ClutchesOfMale(const registry::Source& source,
                                                      const registry::Animal& male) {
  BP_ASSIGN_OR_RETURN(const auto pairings, ReadMany<registry::Pairing>(source, male.pairings));
  std::set<AnimalId> female_ids;
  for (const registry::Pairing& pairing : pairings) female_ids.insert(pairing.female);
  BP_ASSIGN_OR_RETURN(const auto females,
                      ReadMany<registry::Animal>(
                          source, std::vector<AnimalId>(female_ids.begin(), female_ids.end())));
  std::vector<OwnClutch> result;
  for (const registry::Animal& female : females) {
    BP_ASSIGN_OR_RETURN(std::vector<OwnClutch> hers, ClutchesOfFemale(source, female));
    for (OwnClutch& clutch : hers) {
      if (std::ranges::find(clutch.sires, male.id) == clutch.sires.end()) continue;
      result.push_back(std::move(clutch));
    }
  }
  return result;
}

absl::StatusOr<Family> FamilyOf(const registry::Source& source, const AnimalId& animal) {
  BP_ASSIGN_OR_RETURN(auto self, registry::Read<registry::Animal>(source, animal));
  if (!self) {
    return Fail(absl::StatusCode::kNotFound, "UNKNOWN_SUBJECT",
                fmt::format("there is no animal {}", ToShortText(animal)));
  }
  Family family;
  family.self = *std::move(self);
  if (!family.self.clutch.empty()) {
    BP_ASSIGN_OR_RETURN(family.from, registry::Read<registry::Clutch>(source, family.self.clutch));
  }
  const bool male = family.self.sex == facts::Sex::kMale;
  BP_ASSIGN_OR_RETURN(family.clutches, male ? ClutchesOfMale(source, family.self)
                                            : ClutchesOfFemale(source, family.self));
  std::set<AnimalId> mates;
  for (const OwnClutch& own : family.clutches) {
    if (male) mates.insert(own.clutch.female);
    if (!male && own.sires.size() == 1) mates.insert(own.sires.front());
  }
  BP_ASSIGN_OR_RETURN(family.mates, ReadMany<registry::Animal>(
                                        source, std::vector<AnimalId>(mates.begin(), mates.end())));
  return family;
}

// Puts the nodes together. A node's place in the message is counted from 1.
class Chart {
 public:
  Chart(const registry::Source& source, const Family& family, const Lineage& lineage)
      : family_(family),
        lineage_(lineage),
        kinships_(lineage.pedigree().KinshipWithAll(lineage.NodeOf(family.self.id))),
        refs_(source),
        source_(source) {}

  absl::StatusOr<v1::KinChart> Draw(std::uint32_t generations) {
    AddNode(lineage_.NodeOf(family_.self.id), 0);
    for (std::size_t i = 0; i < nodes_.size(); ++i) AddParents(nodes_[i], generations);
    LinkParents();
    PlaceGenerations();
    CountLines();
    AddMates();
    AddClutches();
    BP_RETURN_IF_ERROR(NameSexes());
    if (cut_) {
      chart_.add_remarks(
          fmt::format("more than {} nodes: older ancestors are left out", kChartNodesMax));
    }
    for (std::string& sentence : TellAssumptions(lineage_, refs_)) {
      chart_.add_remarks(std::move(sentence));
    }
    if (lineage_.cut_off()) {
      chart_.add_remarks(fmt::format("only {} ancestors were looked at", kAncestorsMax));
    }
    BP_RETURN_IF_ERROR(refs_.status());
    return std::move(chart_);
  }

 private:
  // The place of a node, which is new if it has none; 0 where it is none, or there is no room.
  std::uint32_t AddNode(Node node, std::uint32_t depth) {
    if (node == kUnknown) return 0;
    const auto found = places_.find(node);
    if (found != places_.end()) return found->second;
    const std::vector<AnimalId> sires = lineage_.possible_sires_at(node);
    const AnimalId& animal = lineage_.animal_at(node);
    if (animal.empty() && sires.empty()) return 0;  // an unknown sire
    if (nodes_.size() >= kChartNodesMax) {
      cut_ = true;
      return 0;
    }
    nodes_.push_back(node);
    depths_.push_back(depth);
    v1::ChartNode& message = *chart_.add_nodes();
    if (animal.empty()) {
      message.set_kind("sires");
      message.set_sex("male");
      for (const AnimalId& sire : sires) *message.add_possible_sires() = refs_.Ref(sire);
    } else {
      message.set_kind("animal");
      *message.mutable_subject() = refs_.Ref(animal);
      message.set_mates(1);
      message.set_founder(!IsKnown(lineage_.parents_at(node).sire) &&
                          !IsKnown(lineage_.parents_at(node).dam));
      message.set_inbreeding(lineage_.pedigree().Inbreeding(node));
      message.set_kinship(kinships_[node]);
    }
    const auto place = static_cast<std::uint32_t>(nodes_.size());
    places_.emplace(node, place);
    return place;
  }

  bool IsKnown(Node node) const {
    return node != kUnknown &&
           (!lineage_.animal_at(node).empty() || !lineage_.possible_sires_at(node).empty());
  }

  // Nearer ancestors come before farther ones, as nodes are gone through in the order of adding.
  void AddParents(Node node, std::uint32_t generations) {
    const std::uint32_t depth = depths_[places_.at(node) - 1];
    if (depth >= generations) return;
    const kinship::Parents parents = lineage_.parents_at(node);
    AddNode(parents.sire, depth + 1);
    AddNode(parents.dam, depth + 1);
  }

  // After all are in: a parent that came in by another line is linked too.
  void LinkParents() {
    for (std::size_t i = 0; i < nodes_.size(); ++i) {
      const kinship::Parents parents = lineage_.parents_at(nodes_[i]);
      v1::ChartNode& message = *chart_.mutable_nodes(static_cast<int>(i));
      message.set_sire(PlaceOf(parents.sire));
      message.set_dam(PlaceOf(parents.dam));
    }
  }

  std::uint32_t PlaceOf(Node node) const {
    const auto found = places_.find(node);
    return found == places_.end() ? 0 : found->second;
  }

  v1::ChartNode& At(std::uint32_t place) {
    return *chart_.mutable_nodes(static_cast<int>(place) - 1);
  }

  // A parent stands at least one generation before its offspring. The pedigree has no cycle, so
  // this comes to rest after as many rounds as there are generations.
  void PlaceGenerations() {
    for (bool moved = true; moved;) {
      moved = false;
      for (const v1::ChartNode& node : chart_.nodes()) {
        for (const std::uint32_t parent : {node.sire(), node.dam()}) {
          if (parent == 0 || At(parent).generation() > node.generation()) continue;
          At(parent).set_generation(node.generation() + 1);
          moved = true;
        }
      }
    }
  }

  // Offspring before parents: a parent has the lines of all its offspring.
  void CountLines() {
    std::vector<std::uint32_t> order;
    for (std::uint32_t place = 1; place <= nodes_.size(); ++place) order.push_back(place);
    std::ranges::stable_sort(order, {},
                             [&](std::uint32_t place) { return At(place).generation(); });
    At(1).set_lines(1);
    for (const std::uint32_t place : order) {
      for (const std::uint32_t parent : {At(place).sire(), At(place).dam()}) {
        if (parent != 0) At(parent).set_lines(At(parent).lines() + At(place).lines());
      }
    }
  }

  void AddMates() {
    for (const registry::Animal& mate : family_.mates) AddNode(lineage_.NodeOf(mate.id), 0);
  }

  void AddClutch(const registry::Clutch& clutch, std::int32_t generation) {
    v1::ChartNode& node = *chart_.add_nodes();
    *node.mutable_subject() = refs_.Ref(clutch.id);
    node.set_kind("clutch");
    node.set_sex("unknown");
    node.set_generation(generation);
    node.set_mates(clutch.accounts.hatched);
  }

  void AddClutches() {
    if (family_.from) {
      AddClutch(*family_.from, 0);
      v1::ChartNode& node = At(static_cast<std::uint32_t>(chart_.nodes_size()));
      node.set_mates(node.mates() > 0 ? node.mates() - 1 : 0);
      node.set_sire(At(1).sire());
      node.set_dam(At(1).dam());
      node.set_inbreeding(At(1).inbreeding());
      const auto self = lineage_.NodeOf(family_.self.id);
      const kinship::Parents parents = lineage_.parents_at(self);
      for (const Node parent : {parents.sire, parents.dam}) {
        if (parent != kUnknown) node.set_kinship(node.kinship() + kinships_[parent] / 2);
      }
    }
    for (const OwnClutch& own : family_.clutches) AddOwnClutch(own);
  }

  void AddOwnClutch(const OwnClutch& own) {
    AddClutch(own.clutch, -1);
    v1::ChartNode& node = At(static_cast<std::uint32_t>(chart_.nodes_size()));
    const Node self = lineage_.NodeOf(family_.self.id);
    const bool male = family_.self.sex == facts::Sex::kMale;
    node.set_kinship(kinships_[self] / 2);
    if (own.sires.size() > 1) {
      for (const AnimalId& sire : own.sires) *node.add_possible_sires() = refs_.Ref(sire);
    }
    if (male) {
      const Node dam = lineage_.NodeOf(own.clutch.female);
      node.set_dam(PlaceOf(dam));
      node.set_kinship((own.sires.size() == 1 ? kinships_[self] / 2 : 0) + kinships_[dam] / 2);
      if (own.sires.size() != 1) return;
      node.set_sire(1);
      node.set_inbreeding(kinships_[dam]);
      return;
    }
    node.set_dam(1);
    if (own.sires.size() != 1) return;
    const Node sire = lineage_.NodeOf(own.sires.front());
    node.set_sire(PlaceOf(sire));
    node.set_inbreeding(kinships_[sire]);
    node.set_kinship((kinships_[self] + kinships_[sire]) / 2);
  }

  absl::Status NameSexes() {
    std::vector<AnimalId> ids;
    for (const Node node : nodes_) {
      if (!lineage_.animal_at(node).empty()) ids.push_back(lineage_.animal_at(node));
    }
    BP_ASSIGN_OR_RETURN(const auto animals, ReadMany<registry::Animal>(source_, ids));
    for (const registry::Animal& animal : animals) {
      At(PlaceOf(lineage_.NodeOf(animal.id))).set_sex(std::string(SexWord(animal.sex)));
    }
    return absl::OkStatus();
  }

  const Family& family_;
  const Lineage& lineage_;
  std::vector<double> kinships_;  // with the animal asked for
  RefBook refs_;
  const registry::Source& source_;
  v1::KinChart chart_;
  std::vector<Node> nodes_;            // by place, less one
  std::vector<std::uint32_t> depths_;  // by the shortest line
  std::map<Node, std::uint32_t> places_;
  bool cut_ = false;
};

}  // namespace

absl::StatusOr<v1::KinChart> ChartOf(const View& view, const AnimalId& animal,
                                     std::uint32_t generations) {
  BP_ASSIGN_OR_RETURN(const Family family, FamilyOf(view.source(), animal));
  std::vector<registry::Animal> animals = family.mates;
  animals.push_back(family.self);
  BP_ASSIGN_OR_RETURN(const Lineage lineage, Lineage::Of(view.source(), animals));
  return Chart(view.source(), family, lineage).Draw(std::min(generations, kChartGenerationsMax));
}

}  // namespace broodpact::replica
