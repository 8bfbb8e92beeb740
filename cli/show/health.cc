#include "cli/show/health.h"

#include <algorithm>

#include <fmt/format.h>

#include "cli/terminal/table.h"

namespace broodpact::cli {
namespace {

constexpr int kFoundersShown = 20;
constexpr std::uint32_t kBar = 30;  // columns of the longest bar

std::string PartText(double part) {
  return fmt::format("{:.1f} %", part * 100);
}

// A bar of `value`, where `most` is the longest. Whatever is there at all has one column.
std::string BarOf(std::uint32_t value, std::uint32_t most, char mark) {
  if (value == 0 || most == 0) return "";
  return std::string(std::max<std::size_t>(1, std::size_t{value} * kBar / most), mark);
}

std::string RemarkOf(const v1::MatureMonth& month) {
  return month.females() > 0 && month.males() == 0 ? "no mature male" : "";
}

// "320 days (210 to 400)", as far as it is known.
std::string DaysText(const v1::MaleLife& life) {
  const auto text = [](std::int32_t days) { return days < 0 ? "?" : std::to_string(days); };
  return fmt::format("{} days ({} to {}; {})", life.days(), text(life.days_lower()),
                     text(life.days_upper()), life.source());
}

std::vector<Field> SummaryOf(const v1::GroupHealth& health) {
  std::vector<Field> fields = FieldsOf(health.group());
  fields.emplace_back("day", health.day());
  fields.emplace_back("living", std::to_string(health.animals()));
  if (health.animals() == 0) return fields;
  for (const v1::Ref& keeper : health.keepers()) fields.emplace_back("keeper", keeper.name());
  for (const v1::StageCount& row : health.living()) {
    fields.emplace_back(fmt::format("{}, {}", row.sex(), row.stage()),
                        std::to_string(row.animals()));
  }
  fields.emplace_back("founders known", std::to_string(health.founders_size()));
  fields.emplace_back("founder equivalents", fmt::format("{:.2f}", health.founder_equivalents()));
  fields.emplace_back("genome equivalents",
                      fmt::format("{:.2f} (by mean kinship)", health.genome_equivalents()));
  fields.emplace_back("mean kinship", fmt::format("{:.4f}", health.mean_kinship()));
  fields.emplace_back("gene diversity", fmt::format("{:.4f}", health.gene_diversity()));
  fields.emplace_back("effective size", health.effective_size() > 0
                                            ? fmt::format("{:.1f}", health.effective_size())
                                            : "none: one sex is not mature");
  if (health.has_male_life()) {
    fields.emplace_back("males live", DaysText(health.male_life()));
  }
  return fields;
}

void PrintFounders(const Terminal& terminal, const v1::GroupHealth& health) {
  std::vector<Row> rows;
  for (const v1::FounderShare& founder : health.founders()) {
    if (terminal.out_is_tty && rows.size() == kFoundersShown) break;
    rows.push_back({"founder", founder.animal().name(), PartText(founder.part())});
  }
  if (health.unknown_part() > 0) {
    rows.push_back({"founder", "(not known)", PartText(health.unknown_part())});
  }
  if (!rows.empty()) PrintTable(terminal, {"", "FOUNDER", "PART"}, rows);
  const int more = health.founders_size() - kFoundersShown;
  if (terminal.out_is_tty && more > 0) terminal.out << fmt::format("and {} more\n", more);
}

void PrintYears(const Terminal& terminal, const v1::GroupHealth& health) {
  std::vector<Row> rows;
  for (const v1::DiversityYear& year : health.years()) {
    const bool any = year.animals() > 0;
    Row row{"year", std::to_string(year.year()), std::to_string(year.animals()),
            any ? fmt::format("{:.4f}", year.gene_diversity()) : ""};
    if (terminal.out_is_tty) {
      row.push_back(BarOf(static_cast<std::uint32_t>(year.gene_diversity() * 1'000), 1'000, '#'));
    }
    rows.push_back(std::move(row));
  }
  if (rows.empty()) return;
  Row header{"", "YEAR", "LIVING", "DIVERSITY"};
  if (terminal.out_is_tty) header.emplace_back();
  PrintTable(terminal, header, rows);
}

void PrintMonths(const Terminal& terminal, const v1::GroupHealth& health) {
  std::uint32_t most = 0;
  for (const v1::MatureMonth& month : health.months()) {
    most = std::max({most, month.males(), month.females()});
  }
  if (most == 0) return;
  std::vector<Row> rows;
  for (const v1::MatureMonth& month : health.months()) {
    Row row{"month", month.month(), std::to_string(month.males()), std::to_string(month.females()),
            RemarkOf(month)};
    if (terminal.out_is_tty) {
      row[2] += ' ' + BarOf(month.males(), most, 'm');
      row[3] += ' ' + BarOf(month.females(), most, 'f');
    }
    rows.push_back(std::move(row));
  }
  PrintTable(terminal, {"", "MONTH", "MATURE MALES", "MATURE FEMALES", ""}, rows);
}

void PrintOutcomes(const Terminal& terminal, const char* what, const v1::Outcomes& outcomes) {
  if (outcomes.cases() == 0) return;
  std::vector<Row> rows;
  for (const v1::OutcomeShare& share : outcomes.shares()) {
    rows.push_back({what, share.outcome(), std::to_string(share.cases()), PartText(share.share()),
                    share.lower() < 0
                        ? ""
                        : fmt::format("{} to {}", PartText(share.lower()), PartText(share.upper())),
                    fmt::format("{}: {} cases, {} ended, within {} days", outcomes.source(),
                                outcomes.cases(), outcomes.ended(), outcomes.days())});
  }
  PrintTable(terminal, {"", "CAME TO", "CASES", "SHARE", "95 %", "FROM"}, rows);
}

void PrintProjection(const Terminal& terminal, const v1::GroupHealth& health) {
  std::vector<Row> rows;
  for (const v1::ProjectedMonth& month : health.projection()) {
    rows.push_back({"ahead", month.month(), fmt::format("{:.1f}", month.males()),
                    fmt::format("{} to {}", month.males_lower(), month.males_upper()),
                    PartText(month.gap_chance())});
  }
  if (rows.empty()) return;
  PrintTable(terminal, {"", "MONTH", "MALES EXPECTED", "8 OF 10 TIMES", "NONE LEFT"}, rows);
}

}  // namespace

void Print(const Terminal& terminal, const v1::GroupHealth& health) {
  std::vector<Field> fields = SummaryOf(health);
  for (const std::string& remark : health.remarks()) fields.emplace_back("remark", remark);
  PrintFields(terminal, fields);
  if (health.animals() == 0 && health.years().empty()) return;
  PrintFounders(terminal, health);
  PrintYears(terminal, health);
  PrintMonths(terminal, health);
  PrintProjection(terminal, health);
  PrintOutcomes(terminal, "pairing", health.pairing_outcomes());
  PrintOutcomes(terminal, "sac", health.sac_outcomes());
  PrintOutcomes(terminal, "pulled sac", health.pulled_sac_outcomes());
}

}  // namespace broodpact::cli
