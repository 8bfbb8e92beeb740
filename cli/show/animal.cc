// Keepers, groups and animals as tables.

#include <fmt/format.h>

#include "cli/show/show.h"
#include "cli/terminal/table.h"

namespace broodpact::cli {
namespace {

std::string MoultText(const v1::MoultEvent& moult) {
  if (moult.moult_count() == 0) return moult.day();
  return fmt::format("{} (number {})", moult.day(), moult.moult_count());
}

std::string SexText(const v1::SexEvent& claim) {
  const std::string method = claim.method().empty() ? "" : fmt::format(" by {}", claim.method());
  return fmt::format("{}{}, {}, says {}", claim.sex(), method, claim.day(), claim.keeper().name());
}

std::string PairingText(const v1::Animal& animal, const v1::Pairing& pairing) {
  const v1::Ref& other = pairing.male().id() == animal.id() ? pairing.female() : pairing.male();
  std::string text = fmt::format("{} with {}", pairing.day(), other.name());
  if (!pairing.outcome().empty()) text += ", " + pairing.outcome();
  if (!pairing.loan().id().empty()) text += ", loan " + pairing.loan().name();
  return text;
}

// One word for how an animal stands in its life.
std::string StageText(const v1::Animal& animal) {
  if (!animal.death_day().empty()) return "died " + animal.death_day();
  if (!animal.maturity_day().empty()) return "mature " + animal.maturity_day();
  return "";
}

// "left on 2026-11-25"; empty for who is there.
std::string LeftText(const v1::Keeper& keeper) {
  constexpr std::size_t kDaySize = 10;
  if (keeper.left_time().empty()) return "";
  return "left on " + keeper.left_time().substr(0, kDaySize);
}

}  // namespace

std::string StandingText(v1::Standing standing) {
  return standing == v1::STANDING_PROVISIONAL ? "not delivered" : "";
}

std::string DueText(const v1::RunningDue& due) {
  std::string claimants;
  for (const v1::Ref& keeper : due.claimants()) {
    claimants += (claimants.empty() ? "" : ", ") + keeper.name();
  }
  std::string text = fmt::format("loan {}: ", due.loan().name());
  text += claimants.empty() ? "nobody else has a share" : "shares go to " + claimants + " too";
  if (due.party().id() != due.keeper().id()) {
    text += fmt::format("; {} stands in for {}", due.keeper().name(), due.party().name());
  }
  return text;
}

std::string ShortId(std::string_view id) {
  return std::string(id.substr(0, kIdShortSize));
}

std::string WhereText(const v1::Animal& animal) {
  std::string text = animal.holder().name();
  if (!animal.receiver().id().empty()) text += " -> " + animal.receiver().name();
  return text;
}

void Print(const Terminal& terminal, const v1::Keeper& keeper) {
  std::vector<Field> fields = {{"keeper", keeper.name()},
                               {"id", keeper.id()},
                               {"role", keeper.role()},
                               {"region", keeper.region()}};
  for (const v1::Device& device : keeper.devices()) {
    fields.emplace_back("device", DeviceText(device));
  }
  fields.emplace_back("left on", keeper.left_time());
  fields.emplace_back("left; acting for it", keeper.successor().name());
  fields.emplace_back("standing", StandingText(keeper.standing()));
  PrintFields(terminal, fields);
}

void Print(const Terminal& terminal, const v1::KeeperList& list) {
  std::vector<Row> rows;
  for (const v1::Keeper& keeper : list.keepers()) {
    const std::string left = LeftText(keeper);
    rows.push_back({keeper.name(), keeper.role(), keeper.region(), ShortId(keeper.id()),
                    left.empty() ? StandingText(keeper.standing()) : left});
  }
  PrintTable(terminal, {"KEEPER", "ROLE", "REGION", "ID", ""}, rows);
}

std::string MarkedName(const v1::Animal& animal) {
  return animal.hybrid() ? animal.name() + " (hybrid)" : animal.name();
}

std::vector<Field> FieldsOf(const v1::Group& group) {
  std::vector<Field> fields = {{"group", group.name()},
                               {"id", group.id()},
                               {"taxon", group.taxon()},
                               {"locality", group.locality()},
                               {"line", group.line()},
                               {"merged into", group.successor().name()},
                               {"because", group.closure_reason()},
                               {"standing", StandingText(group.standing())}};
  for (const v1::GroupName& name : group.names()) {
    std::string text = name.name();
    if (!name.since_day().empty()) text += ", since " + name.since_day();
    if (!name.source().empty()) text += ", " + name.source();
    fields.emplace_back(name.status(), fmt::format("{} (says {})", text, name.keeper().name()));
  }
  return fields;
}

void Print(const Terminal& terminal, const v1::Group& group) {
  PrintFields(terminal, FieldsOf(group));
}

void Print(const Terminal& terminal, const v1::GroupList& list) {
  std::vector<Row> rows;
  for (const v1::Group& group : list.groups()) {
    rows.push_back({group.name(), group.taxon(), group.locality(), group.line(),
                    ShortId(group.id()), StandingText(group.standing())});
  }
  PrintTable(terminal, {"GROUP", "TAXON", "LOCALITY", "LINE", "ID", ""}, rows);
}

void Print(const Terminal& terminal, const v1::Animal& animal) {
  std::vector<Field> fields = {{"animal", MarkedName(animal)},
                               {"id", animal.id()},
                               {"group", animal.group().name()},
                               {"sex", animal.sex()},
                               {"owner", animal.owner().name()},
                               {"holder", animal.holder().name()},
                               {"on its way to", animal.receiver().name()},
                               {"loan", animal.loan().name()},
                               {"hatched", animal.hatching_day()},
                               {"mature", animal.maturity_day()},
                               {"died", animal.death_day()},
                               {"cause", animal.death_cause()},
                               {"sire", animal.sire().name()},
                               {"dam", animal.dam().name()},
                               {"raised from", animal.clutch().name()}};
  for (const v1::MoultEvent& moult : animal.moults()) {
    fields.emplace_back("moult", MoultText(moult));
  }
  for (const v1::SexEvent& claim : animal.sex_claims()) {
    fields.emplace_back("sexed", SexText(claim));
  }
  for (const v1::Pairing& pairing : animal.pairings()) {
    fields.emplace_back("paired", PairingText(animal, pairing));
  }
  for (const v1::RunningDue& due : animal.dues()) {
    fields.emplace_back("due runs with her", DueText(due));
  }
  fields.emplace_back("offered with it to", animal.offered().name());
  for (const v1::GroupStay& stay : animal.past_groups()) {
    fields.emplace_back("was in", fmt::format("{} until {}: {}", stay.group().name(),
                                              stay.until_time(), stay.reason()));
  }
  for (const v1::Lease& lease : animal.leases()) fields.emplace_back("leased", LeaseText(lease));
  fields.emplace_back("standing", StandingText(animal.standing()));
  PrintFields(terminal, fields);
}

void Print(const Terminal& terminal, const v1::AnimalList& list) {
  std::vector<Row> rows;
  for (const v1::Animal& animal : list.animals()) {
    rows.push_back({MarkedName(animal), animal.group().name(), animal.sex(), StageText(animal),
                    animal.owner().name(), WhereText(animal), ShortId(animal.id()),
                    StandingText(animal.standing())});
  }
  PrintTable(terminal, {"ANIMAL", "GROUP", "SEX", "LIFE", "OWNER", "HOLDER", "ID", ""}, rows);
}

}  // namespace broodpact::cli
