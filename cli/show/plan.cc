// Plans, vetoes and wants as tables.

#include <fmt/format.h>

#include "cli/show/phrases.h"
#include "cli/show/show.h"
#include "cli/terminal/table.h"

namespace broodpact::cli {
namespace {

std::string Share(double share) {
  return share < 0 ? "" : fmt::format("{:.4f}", share);
}

// Sentences under a table; a program does not read them as rows.
template <typename Sentences>
void PrintSentences(const Terminal& terminal, std::string_view head, const Sentences& sentences) {
  if (!terminal.out_is_tty || sentences.empty()) return;
  terminal.out << '\n' << head << '\n';
  for (const std::string& sentence : sentences) {
    terminal.out << Toned(terminal, Tone::kSecondary, Clean("  " + sentence)) << '\n';
  }
}

}  // namespace

void Print(const Terminal& terminal, const v1::Plan& plan) {
  std::vector<Row> rows;
  for (const v1::PlanPair& pair : plan.pairs()) {
    rows.push_back({pair.male().name(), pair.male_owner().name(), pair.female().name(),
                    pair.female_holder().name(), fmt::format("{:.2f}", pair.expected_sacs()),
                    Share(pair.offspring_inbreeding()), Share(pair.gene_diversity()),
                    pair.left_days() < 0 ? "" : std::to_string(pair.left_days()),
                    DistanceText(pair.distance(), pair.distance_km()), pair.caution()});
  }
  PrintTable(terminal,
             {"MALE", "OWNER", "FEMALE", "AT", "SACS", "INBREEDING", "DIVERSITY", "DAYS LEFT",
              "DISTANCE", "CAUTION"},
             rows);
  if (!terminal.out_is_tty) return;
  terminal.out << '\n';
  std::vector<Row> figures;
  for (const v1::PlanFigures& one : plan.figures()) {
    figures.push_back({one.name(), std::to_string(one.pairs()),
                       fmt::format("{:.2f}", one.expected_sacs()), Share(one.gene_diversity()),
                       Share(one.offspring_inbreeding()), fmt::format("{:.4f}", one.worth()),
                       std::to_string(one.journeys()), std::to_string(one.distance_km())});
  }
  PrintTable(terminal,
             {"COMPARED", "PAIRS", "SACS", "DIVERSITY", "INBREEDING", "WORTH", "JOURNEYS", "KM"},
             figures);
  std::vector<std::string> rest;
  for (const v1::PlanRest& one : plan.rest()) {
    rest.push_back(fmt::format("{}: {}", one.animal().name(), one.reason()));
  }
  PrintSentences(terminal, "Without a pair:", rest);
  PrintSentences(terminal, "By these rules:", plan.rules());
  PrintSentences(terminal, "Rests on:", plan.remarks());
}

void Print(const Terminal& terminal, const v1::VetoList& list) {
  std::vector<Row> rows;
  for (const v1::Veto& veto : list.vetoes()) {
    const std::string other =
        veto.has_other_animal() ? veto.other_animal().name() : veto.other_keeper().name();
    rows.push_back({veto.keeper().name(), veto.has_animal() ? veto.animal().name() : "all",
                    other.empty() ? "any" : other, StandingText(veto.standing())});
  }
  PrintTable(terminal, {"KEEPER", "ANIMAL", "NOT WITH", ""}, rows);
}

void Print(const Terminal& terminal, const v1::WantList& list) {
  std::vector<Row> rows;
  for (const v1::Want& want : list.wants()) {
    std::string fits;
    for (const std::string& fit : want.fits()) fits += (fits.empty() ? "" : "; ") + fit;
    rows.push_back({want.keeper().name(), want.what(), want.group().name(),
                    want.count() == 0 ? "" : std::to_string(want.count()), want.until_day(),
                    want.note(), fits, StandingText(want.standing()), ShortId(want.id())});
  }
  PrintTable(terminal, {"KEEPER", "WANTS", "GROUP", "HOW MANY", "UNTIL", "NOTE", "FITS", "", "ID"},
             rows);
}

void Print(const Terminal& terminal, const v1::HomeMatchList& list) {
  std::vector<Row> rows;
  for (const v1::HomeMatch& match : list.matches()) {
    const v1::Want& want = match.want();
    rows.push_back({want.keeper().name(), want.count() == 0 ? "" : std::to_string(want.count()),
                    want.until_day(), DistanceText(match.distance(), match.distance_km()),
                    want.note(), match.caution(), ShortId(want.id())});
  }
  PrintTable(terminal, {"KEEPER", "HOW MANY", "UNTIL", "DISTANCE", "NOTE", "CAUTION", "ID"}, rows);
  for (const v1::HomeMatch& match : list.matches()) {
    for (const std::string& reason : match.reasons()) {
      terminal.out << Clean(fmt::format("{}: {}", match.want().keeper().name(), reason)) << '\n';
    }
  }
  PrintSentences(terminal, "Order:", std::vector<std::string>{list.order()});
}

}  // namespace broodpact::cli
