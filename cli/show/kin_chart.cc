#include "cli/show/kin_chart.h"

#include <set>

#include <fmt/ranges.h>

#include "cli/terminal/table.h"

namespace broodpact::cli {
namespace {

std::string NamesOf(const v1::ChartNode& node) {
  std::vector<std::string> names;
  for (const v1::Ref& sire : node.possible_sires()) names.push_back(sire.name());
  return fmt::format("{}", fmt::join(names, " or "));
}

std::string_view SignOf(const v1::ChartNode& node) {
  if (node.sex() == "female") return "female";
  if (node.sex() == "male") return "male";
  return "";
}

std::vector<std::string> RemarksOf(const v1::ChartNode& node) {
  std::vector<std::string> remarks;
  if (node.inbreeding() > 0) remarks.push_back(fmt::format("F {:.4f}", node.inbreeding()));
  if (node.founder()) remarks.emplace_back("founder");
  if (node.lines() > 1) remarks.push_back(fmt::format("by {} lines", node.lines()));
  return remarks;
}

// The tree of the ancestors of the first node.
class Tree {
 public:
  Tree(const Terminal& terminal, const v1::KinChart& chart) : terminal_(terminal), chart_(chart) {}

  void Print() {
    if (chart_.nodes().empty()) return;
    PrintNode(1, "", "", "");
    for (int i = 0; i < chart_.nodes_size(); ++i) {
      const v1::ChartNode& node = chart_.nodes(i);
      if (node.kind() != "clutch") continue;
      terminal_.out << (node.generation() == 0 ? "clutch-mates: " : "offspring: ")
                    << Clean(SentenceOf(node)) << '\n';
    }
    for (const std::string& remark : chart_.remarks()) terminal_.out << Clean(remark) << '\n';
  }

 private:
  const v1::ChartNode& At(std::uint32_t place) const {
    return chart_.nodes(static_cast<int>(place) - 1);
  }

  std::string NameAt(std::uint32_t place) const {
    return place == 0 ? "not known" : fmt::format("{}", fmt::join(LabelOf(At(place)), ", "));
  }

  std::string SentenceOf(const v1::ChartNode& node) const {
    std::string text = fmt::format("{}", fmt::join(LabelOf(node), ", "));
    if (node.generation() == 0) return text;
    const std::uint32_t mate = node.sire() == 1 ? node.dam() : node.sire();
    if (mate > 0) text += fmt::format(", with {}", At(mate).subject().name());
    if (node.possible_sires_size() > 0) text += fmt::format(", sire {}", NamesOf(node));
    return text;
  }

  void PrintNode(std::uint32_t place, const std::string& stem, std::string_view branch,
                 std::string_view role) {
    terminal_.out << stem << branch << role;
    if (place > 0 && !printed_.insert(place).second) {
      terminal_.out << Toned(
                           terminal_, Tone::kSecondary,
                           Clean(fmt::format("[{}] {}, above", place, At(place).subject().name())))
                    << '\n';
      return;
    }
    if (place == 0) {
      terminal_.out << Toned(terminal_, Tone::kSecondary, "not known") << '\n';
      return;
    }
    const v1::ChartNode& node = At(place);
    const std::string number = node.lines() > 1 ? fmt::format("[{}] ", place) : "";
    terminal_.out << Clean(number + NameAt(place)) << '\n';
    if (node.founder() || (node.sire() == 0 && node.dam() == 0)) return;
    std::string below = stem;
    if (!branch.empty()) below += branch == kLast ? "   " : "│  ";
    PrintNode(node.sire(), below, kMiddle, "sire ");
    PrintNode(node.dam(), below, kLast, "dam ");
  }

  static constexpr std::string_view kMiddle = "├─ ";
  static constexpr std::string_view kLast = "└─ ";

  const Terminal& terminal_;
  const v1::KinChart& chart_;
  std::set<std::uint32_t> printed_;
};

std::string PlaceText(std::uint32_t place) {
  return place == 0 ? "" : std::to_string(place);
}

void PrintRows(const Terminal& terminal, const v1::KinChart& chart) {
  std::vector<Row> rows;
  for (int i = 0; i < chart.nodes_size(); ++i) {
    const v1::ChartNode& node = chart.nodes(i);
    rows.push_back(
        {std::to_string(i + 1), std::to_string(node.generation()), node.kind(),
         node.possible_sires_size() > 0 && node.kind() == "sires" ? NamesOf(node)
                                                                  : node.subject().name(),
         std::string(SignOf(node)), PlaceText(node.sire()), PlaceText(node.dam()),
         fmt::format("{:.4f}", node.inbreeding()), fmt::format("{:.4f}", node.kinship()),
         PlaceText(node.lines()), PlaceText(node.mates()), node.founder() ? "founder" : ""});
  }
  PrintTable(terminal,
             {"PLACE", "GENERATION", "KIND", "NAME", "SEX", "SIRE", "DAM", "INBREEDING", "KINSHIP",
              "LINES", "MATES", ""},
             rows);
}

}  // namespace

std::vector<std::string> LabelOf(const v1::ChartNode& node) {
  std::vector<std::string> label;
  if (node.kind() == "sires") {
    label.push_back(NamesOf(node));
  } else if (node.kind() == "clutch") {
    label.push_back(fmt::format("clutch {}", node.subject().name()));
    label.push_back(node.mates() == 0 ? "not counted" : fmt::format("{} slings", node.mates()));
  } else {
    const std::string_view sign = SignOf(node);
    label.push_back(fmt::format("{}{}{}", node.subject().name(), sign.empty() ? "" : ", ", sign));
  }
  for (std::string& remark : RemarksOf(node)) label.push_back(std::move(remark));
  return label;
}

void Print(const Terminal& terminal, const v1::KinChart& chart) {
  if (!terminal.out_is_tty) {
    PrintRows(terminal, chart);
    return;
  }
  Tree(terminal, chart).Print();
}

}  // namespace broodpact::cli
