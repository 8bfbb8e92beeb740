#include "client/replica/health.h"

#include <algorithm>
#include <map>
#include <set>
#include <tuple>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/kinship/effective_size.h"
#include "client/kinship/founders.h"
#include "client/replica/internal/lineage.h"
#include "client/replica/internal/population.h"
#include "client/replica/internal/prospects.h"
#include "client/replica/internal/ref_book.h"
#include "client/replica/internal/words.h"

namespace broodpact::replica {
namespace {

constexpr std::size_t kContradictionsShown = 20;

using Members = std::vector<PopulationMember>;

std::uint32_t MoultsOf(const registry::Animal& animal) {
  std::uint32_t moults = 0;
  for (const registry::MoultRecord& moult : animal.moults) {
    moults = std::max(moults, moult.moult_count);
  }
  return moults;
}

// Who lives, by sex and stage, and with whom.
void CountLiving(const Members& members, Day today, RefBook& refs, v1::GroupHealth& health) {
  using Rank = std::tuple<std::string_view, bool, std::uint32_t>;  // sex, not mature, moults
  std::map<Rank, std::uint32_t> counts;
  std::set<KeeperId> keepers;
  for (const PopulationMember& member : members) {
    if (!LivedAt(member, today)) continue;
    const bool mature = member.mature_since.has_value() && *member.mature_since <= today;
    const std::uint32_t moults = mature ? 0 : MoultsOf(member.animal);
    ++counts[{SexWord(member.animal.sex), !mature, moults}];
    keepers.insert(member.animal.holder);
    health.set_animals(health.animals() + 1);
  }
  for (const auto& [rank, count] : counts) {
    const auto& [sex, young, moults] = rank;
    v1::StageCount& row = *health.add_living();
    row.set_sex(std::string(sex));
    row.set_stage(!young ? "mature" : moults == 0 ? "not said" : fmt::format("moult {}", moults));
    row.set_animals(count);
  }
  for (const KeeperId& keeper : keepers) *health.add_keepers() = refs.Ref(keeper);
  std::ranges::sort(*health.mutable_keepers(), {}, [](const v1::Ref& ref) { return ref.name(); });
}

std::vector<kinship::Node> LivingAt(const Members& members, const Lineage& lineage, Day day) {
  std::vector<kinship::Node> living;
  for (const PopulationMember& member : members) {
    if (LivedAt(member, day)) living.push_back(lineage.NodeOf(member.animal.id));
  }
  return living;
}

void TellFounders(const Lineage& lineage, std::span<const kinship::Node> living, RefBook& refs,
                  v1::GroupHealth& health) {
  if (living.empty()) return;
  const kinship::Founders founders = kinship::FoundersOf(lineage.pedigree(), living);
  double unknown = founders.unknown;
  for (const kinship::Contribution& contribution : founders.known) {
    const AnimalId& animal = lineage.animal_at(contribution.founder);
    if (animal.empty()) {
      unknown += contribution.part;
      continue;
    }
    v1::FounderShare& share = *health.add_founders();
    *share.mutable_animal() = refs.Ref(animal);
    share.set_part(contribution.part);
  }
  health.set_unknown_part(unknown);
  health.set_founder_equivalents(founders.equivalents);
  const kinship::MeanKinship mean = lineage.pedigree().MeanKinshipOf(living);
  health.set_mean_kinship(mean.overall);
  health.set_gene_diversity(kinship::GeneDiversity(mean));
  health.set_genome_equivalents(kinship::GenomeEquivalentsByKinship(mean));
}

// The last years, from the first in which somebody lived.
void TellYears(const Members& members, const Lineage& lineage, Day today, v1::GroupHealth& health) {
  const Month now = MonthOf(today, 0);
  for (std::uint32_t ago = kHealthYears; ago-- > 0;) {
    const auto months = -12 * static_cast<std::int32_t>(ago);
    const std::string year = MonthOf(today, months).text.substr(0, 4);
    const Day end = ago == 0 ? today : *ParseDay(year + "-12-31");
    const auto living = LivingAt(members, lineage, end);
    if (living.empty() && health.years_size() == 0) continue;
    v1::DiversityYear& row = *health.add_years();
    row.set_year(static_cast<std::uint32_t>(std::stoul(year)));
    row.set_animals(static_cast<std::uint32_t>(living.size()));
    if (living.empty()) continue;
    row.set_gene_diversity(kinship::GeneDiversity(lineage.pedigree().MeanKinshipOf(living)));
  }
}

// Mature males and females of the last months, and of today.
void TellMonths(const Members& members, Day today, v1::GroupHealth& health) {
  for (std::uint32_t ago = kHealthMonths; ago-- > 0;) {
    const Month month = MonthOf(today, -static_cast<std::int32_t>(ago));
    const Day last = std::min(month.last, today);
    v1::MatureMonth& row = *health.add_months();
    row.set_month(month.text);
    for (const PopulationMember& member : members) {
      if (!member.mature_since || *member.mature_since > last) continue;
      if (member.until && *member.until < month.first) continue;
      if (member.animal.sex == facts::Sex::kMale) row.set_males(row.males() + 1);
      if (member.animal.sex == facts::Sex::kFemale) row.set_females(row.females() + 1);
    }
  }
}

std::vector<const PopulationMember*> MatureNow(const Members& members, facts::Sex sex, Day today) {
  std::vector<const PopulationMember*> mature;
  for (const PopulationMember& member : members) {
    if (member.animal.sex != sex || !LivedAt(member, today)) continue;
    if (member.mature_since && *member.mature_since <= today) mature.push_back(&member);
  }
  return mature;
}

// Effective size, and the ages of the males that are mature now.
std::vector<double> TellMature(const Members& members, Day today, v1::GroupHealth& health) {
  const auto males = MatureNow(members, facts::Sex::kMale, today);
  const auto females = MatureNow(members, facts::Sex::kFemale, today);
  health.set_effective_size(kinship::EffectiveSizeOfSexes(static_cast<double>(males.size()),
                                                          static_cast<double>(females.size())));
  std::vector<double> ages;
  ages.reserve(males.size());
  for (const PopulationMember* const male : males) {
    if (male->mature_since) ages.push_back(today.number - male->mature_since->number);
  }
  return ages;
}

std::string SentenceOf(const kinship::Contradiction& contradiction, const Lineage& lineage,
                       RefBook& refs) {
  using kinship::Fault;
  const std::string animal = refs.Name(lineage.animal_at(contradiction.animal));
  const std::string parent = contradiction.parent == kinship::kUnknown
                                 ? ""
                                 : refs.Name(lineage.animal_at(contradiction.parent));
  const auto text = [](const auto& day) { return day ? ToText(*day) : std::string(); };
  const auto day = [&](kinship::Node node) { return text(lineage.lives()[node].hatching); };
  const kinship::Life& life = lineage.lives()[contradiction.animal];
  switch (contradiction.fault) {
    case Fault::kOwnAncestor:
      return fmt::format("{} is its own ancestor", animal);
    case Fault::kFemaleAsSire:
      return fmt::format("{} is a female, but stands as sire of {}", parent, animal);
    case Fault::kMaleAsDam:
      return fmt::format("{} is a male, but stands as dam of {}", parent, animal);
    case Fault::kParentHatchedAfter:
      return fmt::format("{} hatched {}, after its offspring {}, {}", parent,
                         day(contradiction.parent), animal, day(contradiction.animal));
    case Fault::kMaturedBeforeHatching:
      return fmt::format("{} matured {}, before it hatched, {}", animal, text(life.maturity),
                         day(contradiction.animal));
    case Fault::kDiedBeforeHatching:
      return fmt::format("{} died {}, before it hatched, {}", animal, text(life.death),
                         day(contradiction.animal));
  }
  return "";
}

void TellContradictions(const Lineage& lineage, RefBook& refs, v1::GroupHealth& health) {
  const auto found = kinship::ContradictionsIn(lineage.parents(), lineage.lives());
  for (std::size_t i = 0; i < std::min(found.size(), kContradictionsShown); ++i) {
    health.add_remarks(SentenceOf(found[i], lineage, refs));
  }
  if (found.size() > kContradictionsShown) {
    health.add_remarks(fmt::format("{} more that cannot be", found.size() - kContradictionsShown));
  }
}

void TellRemarks(const Members& members, const Lineage& lineage, Day today, RefBook& refs,
                 v1::GroupHealth& health) {
  std::uint32_t without_parents = 0;
  std::uint32_t females = 0;
  std::uint32_t males = 0;
  for (const PopulationMember& member : members) {
    if (!LivedAt(member, today)) continue;
    if (!lineage.parents_known(member.animal.id)) ++without_parents;
    if (member.animal.sex == facts::Sex::kFemale && !member.mature_since) ++females;
    if (member.animal.sex == facts::Sex::kMale && !member.mature_since) ++males;
  }
  if (without_parents > 0) {
    health.add_remarks(
        fmt::format("of {} living a parent is not known, and taken as {}: kinship may be higher",
                    without_parents, lineage.assumptions().empty() ? "unrelated" : "a founder"));
  }
  for (std::string& sentence : TellAssumptions(lineage, refs)) {
    health.add_remarks(std::move(sentence));
  }
  if (!lineage.clutches_unsure().empty()) {
    health.add_remarks(
        fmt::format("{} clutches may have several sires: one of them sired all, each with the "
                    "same chance",
                    lineage.clutches_unsure().size()));
  }
  if (females > 0) {
    health.add_remarks(fmt::format(
        "{} living females were never stated mature, paired or laid: not counted as mature",
        females));
  }
  if (males > 0) {
    health.add_remarks(fmt::format(
        "{} living males have no day of maturity: not counted as mature, nor found as mates until "
        "it is recorded",
        males));
  }
  if (lineage.cut_off()) {
    health.add_remarks(fmt::format("only {} ancestors were looked at", kAncestorsMax));
  }
  TellContradictions(lineage, refs, health);
}

}  // namespace

absl::StatusOr<v1::GroupHealth> HealthOf(const View& view, const GroupId& group, Day today,
                                         const survival::Expectations* expectations) {
  v1::GroupHealth health;
  BP_ASSIGN_OR_RETURN(*health.mutable_group(), view.Group(group));
  health.set_day(ToText(today));
  BP_ASSIGN_OR_RETURN(const Members members, PopulationOf(view.source(), group));
  std::vector<registry::Animal> animals;
  animals.reserve(members.size());
  for (const PopulationMember& member : members) animals.push_back(member.animal);
  BP_ASSIGN_OR_RETURN(const Lineage lineage, Lineage::Of(view.source(), animals));

  RefBook refs(view.source());
  CountLiving(members, today, refs, health);
  TellFounders(lineage, LivingAt(members, lineage, today), refs, health);
  TellYears(members, lineage, today, health);
  TellMonths(members, today, health);
  const Prospect prospect{
      .group = group,
      .today = today,
      .expectations = expectations != nullptr ? *expectations : survival::Expectations::Shipped(),
      .ages = TellMature(members, today, health)};
  BP_RETURN_IF_ERROR(TellProspects(view.source(), prospect, health));
  TellRemarks(members, lineage, today, refs, health);
  BP_RETURN_IF_ERROR(refs.status());
  return health;
}

}  // namespace broodpact::replica
