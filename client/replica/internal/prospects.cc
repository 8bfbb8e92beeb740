#include "client/replica/internal/prospects.h"

#include <array>
#include <cmath>
#include <optional>
#include <span>
#include <string>
#include <string_view>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/replica/internal/lives.h"
#include "client/replica/internal/outcomes.h"
#include "client/replica/internal/population.h"
#include "client/replica/internal/projection.h"

namespace broodpact::replica {
namespace {

std::int32_t Rounded(const std::optional<double>& days) {
  return days ? static_cast<std::int32_t>(std::lround(*days)) : -1;
}

// Of a male that has just matured.
void TellMaleLife(const survival::Evidence& lives, v1::GroupHealth& health) {
  const std::optional<survival::Outlook> outlook = survival::OutlookAt(lives, 0);
  if (!outlook) {
    health.add_remarks(fmt::format(
        "how long males live is not known: lives watched in this group {}, ended {}; in its genus "
        "{}, ended {}; and there is no prior",
        lives.group.lives, lives.group.deaths, lives.genus.lives, lives.genus.deaths));
    return;
  }
  v1::MaleLife& life = *health.mutable_male_life();
  const std::string basis = survival::BasisOf(lives, *outlook);
  life.set_source(outlook->level == survival::Level::kGroup ? "group: " + basis : basis);
  life.set_lives(outlook->lives);
  life.set_ended(outlook->deaths);
  life.set_days(Rounded(outlook->left.days));
  life.set_days_lower(Rounded(outlook->left.lower));
  life.set_days_upper(Rounded(outlook->left.upper));
}

void TellMonthsAhead(const survival::Evidence& lives, const Prospect& prospect,
                     v1::GroupHealth& health) {
  if (prospect.ages.empty()) return;
  MalesAhead males(lives, prospect.ages);
  for (std::uint32_t ahead = 1; ahead <= kProjectionMonths; ++ahead) {
    const Month month = MonthOf(prospect.today, static_cast<std::int32_t>(ahead));
    const Expected expected =
        ExpectedAlive(males.ChancesIn(month.last.number - prospect.today.number));
    v1::ProjectedMonth& row = *health.add_projection();
    row.set_month(month.text);
    row.set_males(expected.males);
    row.set_males_lower(expected.lower);
    row.set_males_upper(expected.upper);
    row.set_gap_chance(expected.none);
  }
  if (males.Basis().empty()) {
    health.clear_projection();
    health.add_remarks("months ahead: nothing says how long males of this age live");
    return;
  }
  health.add_remarks(
      fmt::format("months ahead rest on {}; males that mature meanwhile are not "
                  "counted",
                  males.Basis()));
}

// The outcomes of some cases, and the share to which nothing has come.
void TellOutcomes(const survival::Incidences& found, std::string_view source,
                  std::span<const std::string_view> words, v1::Outcomes& outcomes) {
  outcomes.set_source(std::string(source));
  outcomes.set_cases(found.cases);
  outcomes.set_days(static_cast<std::uint32_t>(found.seen_to));
  double open = 1;
  std::uint32_t ended = 0;
  for (std::uint32_t i = 0; i < words.size(); ++i) {
    const survival::Incidence incidence = found.At(i, found.seen_to);
    ended += found.ended[i];
    open -= incidence.share;
    v1::OutcomeShare& row = *outcomes.add_shares();
    row.set_outcome(std::string(words[i]));
    row.set_cases(found.ended[i]);
    row.set_share(incidence.share);
    // Where nothing came to it there is no interval to draw.
    row.set_lower(found.ended[i] > 0 ? incidence.lower : -1);
    row.set_upper(found.ended[i] > 0 ? incidence.upper : -1);
  }
  outcomes.set_ended(ended);
  v1::OutcomeShare& row = *outcomes.add_shares();
  row.set_outcome("none yet");
  row.set_cases(found.cases - ended);
  row.set_share(std::max(0.0, open));
  row.set_lower(-1);
  row.set_upper(-1);
}

constexpr std::array<std::string_view, kPairingEnds> kPairingWords = {"sac", "moult",
                                                                      "death of the female"};
constexpr std::array<std::string_view, kSacEnds> kSacWords = {"hatched", "eaten", "infertile",
                                                              "lost otherwise", "pulled"};
constexpr std::span<const std::string_view> kPulledSacWords(kSacWords.data(), kPulledSacEnds);

}  // namespace

absl::Status TellProspects(const registry::Source& source, const Prospect& prospect,
                           v1::GroupHealth& health) {
  BP_ASSIGN_OR_RETURN(const survival::Evidence lives,
                      MaleLives(source, prospect.group, prospect.today, prospect.expectations));
  TellMaleLife(lives, health);
  TellMonthsAhead(lives, prospect, health);
  BP_ASSIGN_OR_RETURN(const auto group, registry::Read<registry::Group>(source, prospect.group));
  if (!group) return absl::OkStatus();
  BP_ASSIGN_OR_RETURN(const KnownCases known, KnownCasesOf(source, *group, prospect.today));
  const auto pairings = survival::FitAalenJohansen(known.cases.pairings, kPairingEnds);
  if (pairings.cases > 0) {
    TellOutcomes(pairings, known.whose, kPairingWords, *health.mutable_pairing_outcomes());
  }
  const auto sacs = survival::FitAalenJohansen(known.cases.sacs, kSacEnds);
  if (sacs.cases > 0) {
    TellOutcomes(sacs, known.whose, kSacWords, *health.mutable_sac_outcomes());
  }
  const auto pulled = survival::FitAalenJohansen(known.cases.pulled_sacs, kPulledSacEnds);
  if (pulled.cases > 0) {
    TellOutcomes(pulled, known.whose, kPulledSacWords, *health.mutable_pulled_sac_outcomes());
  }
  return absl::OkStatus();
}

}  // namespace broodpact::replica
