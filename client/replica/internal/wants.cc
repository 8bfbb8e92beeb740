#include "client/replica/internal/wants.h"

#include "client/base/status.h"
#include "client/replica/internal/bulk.h"
#include "client/replica/internal/messages.h"
#include "client/replica/internal/words.h"

namespace broodpact::replica {

bool IsOpen(const registry::Want& want, Day day) {
  return want.state == registry::WantState::kOpen && (!want.until || *want.until >= day);
}

absl::StatusOr<std::vector<registry::Want>> WantsBehind(const registry::Source& source,
                                                        const std::string& prefix, Day day) {
  BP_ASSIGN_OR_RETURN(const std::vector<WantId> ids, IdsBehind<WantId>(source, prefix, kWantsMax));
  BP_ASSIGN_OR_RETURN(auto wants, ReadMany<registry::Want>(source, ids));
  std::erase_if(wants, [&](const registry::Want& want) { return !IsOpen(want, day); });
  return wants;
}

v1::Want WantMessage(const registry::Want& want, RefBook& refs,
                     const registry::Layer* provisional) {
  v1::Want message;
  message.set_id(ToText(want.id));
  *message.mutable_keeper() = refs.Ref(want.keeper);
  *message.mutable_group() = refs.Ref(want.group);
  message.set_what(std::string(WantWord(want.what)));
  message.set_count(want.count);
  if (want.until) message.set_until_day(ToText(*want.until));
  message.set_note(want.note);
  message.set_standing(StandingOf(provisional, registry::Kind::kWant, want.id.bytes));
  return message;
}

}  // namespace broodpact::replica
