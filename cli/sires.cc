#include "cli/sires.h"

#include <fmt/format.h>

#include "cli/show/phrases.h"
#include "cli/terminal/terminal.h"
#include "client/base/status.h"
#include "client/replica/acting.h"

namespace broodpact::cli {

absl::StatusOr<SiresByClutch> SiresOf(const replica::Replica& replica, const AnimalId& female) {
  BP_ASSIGN_OR_RETURN(const auto animal,
                      replica::Known<registry::Animal>(replica, female, "animal"));
  const replica::View view = ViewOf(replica);
  SiresByClutch sires;
  for (const ClutchId& id : animal.clutches) {
    BP_ASSIGN_OR_RETURN(const v1::Clutch clutch, view.Clutch(id));
    const std::string names = NamesOf(clutch.possible_sires());
    sires.emplace(clutch.name(), names.empty() ? "none known" : names);
  }
  return sires;
}

void NoteSires(const Desk& desk, const SiresByClutch& before, const SiresByClutch& now) {
  for (const auto& [clutch, sires] : now) {
    const auto known = before.find(clutch);
    if (known == before.end() || known->second == sires) continue;
    desk.terminal.messages
        << Toned(desk.terminal, Tone::kLookAtIt, "Note: ")
        << Clean(fmt::format("by this day, the possible sires of clutch {} were {} and now are "
                             "{}; look at the day, and tell who has a share",
                             clutch, known->second, sires))
        << '\n';
  }
}

}  // namespace broodpact::cli
