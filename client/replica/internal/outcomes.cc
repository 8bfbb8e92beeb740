#include "client/replica/internal/outcomes.h"

#include <algorithm>
#include <array>
#include <map>
#include <string_view>
#include <utility>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/registry/index.h"
#include "client/replica/internal/bulk.h"
#include "client/replica/internal/lives.h"

namespace broodpact::replica {
namespace {

double DaysFrom(Day start, Day end) {
  return end.number - start.number;
}

// A female's records in order of day.
struct Record {
  Day day{};
  PairingEnd end = PairingEnd::kSac;  // of a pairing: not read
  bool is_pairing = false;
};

// Each interval with a pairing as one case: it ends with the first sac or moult, with her death, or
// is still open.
void AddPairings(const registry::Animal& female, const std::vector<registry::Pairing>& pairings,
                 const std::vector<registry::Clutch>& clutches, Day today,
                 std::vector<survival::Course>& cases) {
  std::vector<Record> records;
  for (const registry::Pairing& pairing : pairings) {
    if (pairing.outcome == facts::PairingOutcome::kRefused) continue;
    records.push_back({.day = MiddleOf(pairing.day), .is_pairing = true});
  }
  for (const registry::Clutch& clutch : clutches) {
    records.push_back({.day = MiddleOf(clutch.laying), .end = PairingEnd::kSac});
  }
  for (const registry::MoultRecord& moult : female.moults) {
    records.push_back({.day = MiddleOf(moult.day), .end = PairingEnd::kMoult});
  }
  if (female.death) records.push_back({.day = MiddleOf(*female.death), .end = PairingEnd::kDeath});
  // Of what happened on one day the pairing came first.
  std::ranges::stable_sort(records, [](const Record& a, const Record& b) {
    return a.day != b.day ? a.day < b.day : a.is_pairing && !b.is_pairing;
  });
  std::optional<Day> paired;
  for (const Record& record : records) {
    if (record.is_pairing) {
      if (!paired) paired = record.day;
      continue;
    }
    if (!paired) continue;
    cases.push_back({.exit = DaysFrom(*paired, record.day) + 1,
                     .outcome = static_cast<std::uint32_t>(record.end)});
    paired.reset();
  }
  if (paired && *paired <= today) cases.push_back({.exit = DaysFrom(*paired, today) + 1});
}

// What a sac came to at last, and when.
struct SacFate {
  Day day{};
  SacEnd end = SacEnd::kOther;
};

std::optional<SacFate> FateOf(const registry::Clutch& clutch) {
  for (const registry::CountRecord& count : clutch.counts) {
    if (count.state != registry::CountState::kStanding) continue;
    return SacFate{.day = MiddleOf(count.day),
                   .end = count.slings_living > 0 ? SacEnd::kHatched : SacEnd::kInfertile};
  }
  if (!clutch.loss) return std::nullopt;
  return SacFate{.day = MiddleOf(*clutch.loss), .end = SacEndOf(clutch.loss_cause)};
}

// The time from `start` on, which the fate ends, if there is one.
void AddSacCase(Day start, const std::optional<SacFate>& fate, Day today,
                std::vector<survival::Course>& cases) {
  if (fate) {
    cases.push_back(
        {.exit = DaysFrom(start, fate->day) + 1, .outcome = static_cast<std::uint32_t>(fate->end)});
  } else if (start <= today) {
    cases.push_back({.exit = DaysFrom(start, today) + 1});
  }
}

// A day of pulling after the sac's end, or before its beginning, cannot be, and is passed over.
void AddSac(const registry::Clutch& clutch, Day today, BreedingCases& cases) {
  const Day laid = MiddleOf(clutch.laying);
  const std::optional<SacFate> fate = FateOf(clutch);
  const std::optional<Day> pulled =
      clutch.pulling ? std::optional(MiddleOf(*clutch.pulling)) : std::nullopt;
  if (!pulled || *pulled < laid || *pulled > (fate ? fate->day : today)) {
    AddSacCase(laid, fate, today, cases.sacs);
    return;
  }
  AddSacCase(laid, SacFate{.day = *pulled, .end = SacEnd::kPulled}, today, cases.sacs);
  AddSacCase(*pulled, fate, today, cases.pulled_sacs);
}

// By female.
template <typename Record>
std::map<AnimalId, std::vector<Record>> ByFemale(std::vector<Record> records) {
  std::map<AnimalId, std::vector<Record>> by_female;
  for (Record& record : records) by_female[record.female].push_back(std::move(record));
  return by_female;
}

void Append(BreedingCases& to, const BreedingCases& from) {
  to.pairings.insert(to.pairings.end(), from.pairings.begin(), from.pairings.end());
  to.sacs.insert(to.sacs.end(), from.sacs.begin(), from.sacs.end());
  to.pulled_sacs.insert(to.pulled_sacs.end(), from.pulled_sacs.begin(), from.pulled_sacs.end());
}

// Cases that came to what a sac comes to, and those of them that hatched.
struct SacsEnded {
  std::uint32_t all = 0;
  std::uint32_t hatched = 0;
};

// The share of sacs that come to living slings: with their mother, or after they were pulled.
// Nothing where none came to anything.
std::optional<double> HatchedShare(const BreedingCases& cases, SacsEnded& ended) {
  const auto hatched = static_cast<std::uint32_t>(SacEnd::kHatched);
  const auto pulled = static_cast<std::uint32_t>(SacEnd::kPulled);
  const survival::Incidences sacs = survival::FitAalenJohansen(cases.sacs, kSacEnds);
  const survival::Incidences after = survival::FitAalenJohansen(cases.pulled_sacs, kPulledSacEnds);
  for (std::uint32_t end = 0; end < kPulledSacEnds; ++end) {
    ended.all += sacs.ended[end] + after.ended[end];
  }
  ended.hatched = sacs.ended[hatched] + after.ended[hatched];
  if (ended.all == 0) return std::nullopt;
  return sacs.At(hatched, sacs.seen_to).share +
         sacs.At(pulled, sacs.seen_to).share * after.At(hatched, after.seen_to).share;
}

// What the cases say, where they say something: the share of pairings that come to a sac, times
// that of sacs that come to living slings.
std::optional<SacChance> ChanceOf(const BreedingCases& cases, std::string_view whose) {
  const survival::Incidences pairings = survival::FitAalenJohansen(cases.pairings, kPairingEnds);
  const auto sac = static_cast<std::uint32_t>(PairingEnd::kSac);
  if (pairings.cases < kPairedMin || pairings.ended[sac] < kSacsMin) return std::nullopt;
  SacsEnded sacs;
  const std::optional<double> hatched = HatchedShare(cases, sacs);
  if (!hatched) return std::nullopt;
  const survival::Incidence laid = pairings.At(sac, pairings.seen_to);
  const double share = laid.share * *hatched;
  if (share <= 0) return std::nullopt;
  return SacChance{
      .share = share,
      .basis = fmt::format(
          "{}: of {} pairings {} gave a sac ({} moulted, {} died first; {:.0f} % expected, "
          "{:.0f} to {:.0f}), and of {} sacs that came to something {} hatched",
          whose, pairings.cases, pairings.ended[sac],
          pairings.ended[static_cast<std::uint32_t>(PairingEnd::kMoult)],
          pairings.ended[static_cast<std::uint32_t>(PairingEnd::kDeath)], 100 * laid.share,
          100 * laid.lower, 100 * laid.upper, sacs.all, sacs.hatched)};
}

}  // namespace

SacEnd SacEndOf(const std::string& cause) {
  constexpr std::array<std::pair<std::string_view, SacEnd>, 4> kWords{
      {{"eaten", SacEnd::kEaten},
       {"infertile", SacEnd::kInfertile},
       {"phantom", SacEnd::kInfertile},
       {"bad eggs", SacEnd::kInfertile}}};
  for (const auto& [word, end] : kWords) {
    if (cause.find(word) != std::string::npos) return end;
  }
  return SacEnd::kOther;
}

absl::StatusOr<BreedingCases> CasesOfGroup(const registry::Source& source, const GroupId& group,
                                           Day today) {
  BP_ASSIGN_OR_RETURN(const std::vector<AnimalId> ids,
                      IdsBehind<AnimalId>(source, registry::AnimalsOfGroup(group), kFemalesMax));
  BP_ASSIGN_OR_RETURN(auto females, ReadMany<registry::Animal>(source, ids));
  std::erase_if(females, [](const registry::Animal& animal) {
    return animal.pairings.empty() && animal.clutches.empty();
  });
  std::vector<PairingId> pairing_ids;
  std::vector<ClutchId> clutch_ids;
  for (const registry::Animal& female : females) {
    if (female.sex == facts::Sex::kMale) continue;
    pairing_ids.insert(pairing_ids.end(), female.pairings.begin(), female.pairings.end());
    clutch_ids.insert(clutch_ids.end(), female.clutches.begin(), female.clutches.end());
  }
  BP_ASSIGN_OR_RETURN(auto pairings, ReadMany<registry::Pairing>(source, pairing_ids));
  BP_ASSIGN_OR_RETURN(auto clutches, ReadMany<registry::Clutch>(source, clutch_ids));
  BreedingCases cases;
  for (const registry::Clutch& clutch : clutches) AddSac(clutch, today, cases);
  const auto pairings_of = ByFemale(std::move(pairings));
  const auto clutches_of = ByFemale(std::move(clutches));
  for (const registry::Animal& female : females) {
    const auto paired = pairings_of.find(female.id);
    if (paired == pairings_of.end()) continue;
    const auto laid = clutches_of.find(female.id);
    AddPairings(female, paired->second,
                laid == clutches_of.end() ? std::vector<registry::Clutch>() : laid->second, today,
                cases.pairings);
  }
  return cases;
}

absl::StatusOr<KnownCases> KnownCasesOf(const registry::Source& source,
                                        const registry::Group& group, Day today) {
  KnownCases known;
  BP_ASSIGN_OR_RETURN(known.cases, CasesOfGroup(source, group.id, today));
  const auto ended = std::ranges::count_if(
      known.cases.pairings, [](const survival::Course& one) { return one.outcome.has_value(); });
  if (known.cases.pairings.size() >= kPairedMin && ended > 0) return known;
  BP_ASSIGN_OR_RETURN(const std::vector<GroupId> kin, OtherGroupsOfGenus(source, group));
  for (const GroupId& other : kin) {
    BP_ASSIGN_OR_RETURN(const BreedingCases more, CasesOfGroup(source, other, today));
    if (!more.pairings.empty() || !more.sacs.empty()) known.whose = "genus";
    Append(known.cases, more);
  }
  return known;
}

absl::StatusOr<std::optional<SacChance>> SacChanceOf(const registry::Source& source,
                                                     const registry::Group& group, Day today,
                                                     const survival::Expectations& expectations) {
  BP_ASSIGN_OR_RETURN(BreedingCases cases, CasesOfGroup(source, group.id, today));
  if (auto chance = ChanceOf(cases, "group")) return chance;
  BP_ASSIGN_OR_RETURN(const std::vector<GroupId> kin, OtherGroupsOfGenus(source, group));
  for (const GroupId& other : kin) {
    BP_ASSIGN_OR_RETURN(const BreedingCases more, CasesOfGroup(source, other, today));
    Append(cases, more);
  }
  if (auto chance = ChanceOf(cases, "genus")) return chance;
  const auto prior = expectations.Of(survival::Expected::kViableSac, group.taxon);
  if (!prior) return std::optional<SacChance>();
  return std::optional(SacChance{
      .share = (prior->low + prior->high) / 2,
      .basis = fmt::format("prior, {}: {:.0f} to {:.0f} % ({}); the group's own pairings are {}",
                           survival::ToText(prior->trust), 100 * prior->low, 100 * prior->high,
                           prior->sources, cases.pairings.size())});
}

}  // namespace broodpact::replica
