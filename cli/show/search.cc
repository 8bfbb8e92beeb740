// Searches and kinship as tables.

#include <fmt/format.h>

#include "cli/show/phrases.h"
#include "cli/show/show.h"
#include "cli/terminal/table.h"

namespace broodpact::cli {
namespace {

std::string DaysText(std::int32_t days) {
  return days < 0 ? "" : std::to_string(days);
}

std::string RangeText(std::int32_t lower, std::int32_t upper) {
  if (lower < 0 && upper < 0) return "";
  return fmt::format("{} to {}", lower < 0 ? "?" : std::to_string(lower),
                     upper < 0 ? "?" : std::to_string(upper));
}

// Days since maturity, or the chance that he is mature by then.
std::string MatureText(const v1::MaleMatch& match) {
  if (match.mature_chance() >= 0) return fmt::format("{:.0f} % then", 100 * match.mature_chance());
  return DaysText(match.mature_days());
}

// Four decimals: the smallest kinship of seven generations shows.
std::string InbreedingText(double inbreeding) {
  return inbreeding < 0 ? "" : fmt::format("{:.4f}", inbreeding);
}

// How the order came about; a program does not read it as a row.
void PrintOrder(const Terminal& terminal, const std::string& order) {
  if (!terminal.out_is_tty || order.empty()) return;
  terminal.out << Toned(terminal, Tone::kSecondary, Clean("Order: " + order)) << '\n';
}

// What the numbers rest on, under a table; a program does not read it as rows.
template <typename Sentences>
void PrintRemarks(const Terminal& terminal, const Sentences& remarks) {
  if (!terminal.out_is_tty) return;
  for (const std::string& remark : remarks) {
    terminal.out << Toned(terminal, Tone::kSecondary, Clean("Note: " + remark)) << '\n';
  }
}

std::string CountText(std::uint32_t count) {
  return count == 0 ? "" : std::to_string(count);
}

std::string SacsText(std::uint32_t hatched, std::uint32_t sacs) {
  return sacs == 0 ? "" : fmt::format("{}/{}", hatched, sacs);
}

std::string GainText(double gain) {
  return gain == 0 ? "" : fmt::format("{:+.4f}", gain);
}

}  // namespace

void Print(const Terminal& terminal, const v1::MaleMatchList& list) {
  std::vector<Row> rows;
  for (const v1::MaleMatch& match : list.matches()) {
    rows.push_back({MarkedName(match.animal()), match.animal().owner().name(), match.availability(),
                    InbreedingText(match.offspring_inbreeding()), MatureText(match),
                    DaysText(match.left_days()),
                    DistanceText(match.distance(), match.distance_km()),
                    std::to_string(match.pairings()), match.caution(), ShortId(match.animal().id()),
                    RangeText(match.left_days_lower(), match.left_days_upper()), match.left_basis(),
                    CountText(match.waiting()), SacsText(match.sacs_hatched(), match.sacs()),
                    GainText(match.diversity_gain())});
  }
  PrintTable(terminal,
             {"MALE", "OWNER", "FREE", "INBREEDING", "DAYS MATURE", "DAYS LEFT", "DISTANCE",
              "PAIRED", "CAUTION", "ID", "95 %", "FROM", "WAITING", "SACS", "GAIN"},
             rows);
  for (const v1::MaleMatch& match : list.matches()) {
    for (const std::string& reason : match.reasons()) {
      terminal.out << Clean(fmt::format("{}: {}", match.animal().name(), reason)) << '\n';
    }
  }
  if (rows.empty()) return;
  PrintOrder(terminal, list.order());
  PrintRemarks(terminal, list.remarks());
}

void Print(const Terminal& terminal, const v1::FemaleMatchList& list) {
  std::vector<Row> rows;
  for (const v1::FemaleMatch& match : list.matches()) {
    rows.push_back({MarkedName(match.animal()), match.animal().owner().name(), match.availability(),
                    InbreedingText(match.offspring_inbreeding()), DaysText(match.moult_days()),
                    DistanceText(match.distance(), match.distance_km()), match.caution(),
                    ShortId(match.animal().id()), match.breeding(), CountText(match.waiting()),
                    CountText(match.pairings()), SacsText(match.sacs_hatched(), match.sacs()),
                    GainText(match.diversity_gain())});
  }
  PrintTable(terminal,
             {"FEMALE", "OWNER", "FREE", "INBREEDING", "DAYS SINCE MOULT", "DISTANCE", "CAUTION",
              "ID", "READY", "WAITING", "PAIRED", "SACS", "GAIN"},
             rows);
  for (const v1::FemaleMatch& match : list.matches()) {
    for (const std::string& reason : match.reasons()) {
      terminal.out << Clean(fmt::format("{}: {}", match.animal().name(), reason)) << '\n';
    }
  }
  if (rows.empty()) return;
  PrintOrder(terminal, list.order());
  PrintRemarks(terminal, list.remarks());
}

void Print(const Terminal& terminal, const v1::Kinship& kinship) {
  std::vector<Field> fields = {{"first", kinship.first().name()},
                               {"second", kinship.second().name()},
                               {"kinship", fmt::format("{:.4f}", kinship.kinship())},
                               {fmt::format("inbreeding of {}", kinship.first().name()),
                                fmt::format("{:.4f}", kinship.first_inbreeding())},
                               {fmt::format("inbreeding of {}", kinship.second().name()),
                                fmt::format("{:.4f}", kinship.second_inbreeding())}};
  for (const std::string& remark : kinship.remarks()) fields.emplace_back("remark", remark);
  PrintFields(terminal, fields);
}

}  // namespace broodpact::cli
