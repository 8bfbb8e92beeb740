// Wishes: PlanVeto, WantEntry, WantEnd. They promise nothing and spend nothing.

#include "fmt/core.h"

#include "client/registry/internal/rules.h"

namespace broodpact::registry {
namespace {

// Its own id, from what it names: stated twice it is one veto.
VetoId VetoOf(const KeeperId& keeper, const facts::PlanVeto& s) {
  std::string named;
  for (const IdBytes& id :
       {keeper.bytes, s.animal.bytes, s.other_animal.bytes, s.other_keeper.bytes}) {
    named.append(ViewOf(id));
  }
  return FirstHalf<VetoId>(Sha256(named));
}

Finding CheckVeto(Case& c, const facts::PlanVeto& s) {
  if (!s.animal.empty()) {
    const Animal* animal = c.state.Find<Animal>(s.animal);
    if (animal == nullptr) return UnknownSubject("animal", s.animal.bytes);
    if (Finding f = CheckKeeps(c, *animal)) return f;
  }
  if (!s.other_animal.empty() && c.state.Find<Animal>(s.other_animal) == nullptr) {
    return UnknownSubject("animal", s.other_animal.bytes);
  }
  if (!s.other_keeper.empty() && !IsKeeper(c, s.other_keeper)) {
    return UnknownSubject("keeper", s.other_keeper.bytes);
  }
  if (s.other_keeper == c.author() || (!s.animal.empty() && s.animal == s.other_animal)) {
    return Refused("VETO_ITSELF", "a veto is against another animal, or another keeper");
  }
  return std::nullopt;
}

}  // namespace

Finding Apply(Case& c, const facts::PlanVeto& s) {
  if (Finding f = CheckVeto(c, s)) return f;
  const VetoId id = VetoOf(c.author(), s);
  const bool is_new = c.state.Find<Veto>(id) == nullptr;
  if (is_new && s.stance == facts::VetoStance::kLifted) {
    return Refused("NO_VETO", "there is no such veto to lift");
  }
  Veto& veto = is_new ? c.state.Create<Veto>(id) : c.state.Edit<Veto>(id);
  veto.keeper = c.author();
  veto.animal = s.animal;
  veto.other_animal = s.other_animal;
  veto.other_keeper = s.other_keeper;
  veto.stance = s.stance;
  veto.entry = c.entry;
  return std::nullopt;
}

Finding Apply(Case& c, const facts::WantEntry& s) {
  if (c.state.Find<Group>(s.group) == nullptr) return UnknownSubject("group", s.group.bytes);
  if (c.state.Find<Want>(s.want) != nullptr) return IdTaken("want", s.want.bytes);
  Want& want = c.state.Create<Want>(s.want);
  want.keeper = c.author();
  want.group = s.group;
  want.what = s.kind;
  want.count = s.count;
  want.until = s.until;
  want.note = s.note;
  want.entry = c.entry;
  return std::nullopt;
}

Finding Apply(Case& c, const facts::WantEnd& s) {
  const Want* want = c.state.Find<Want>(s.want);
  if (want == nullptr) return UnknownSubject("want", s.want.bytes);
  if (want->keeper != c.author()) {
    return Void("NOT_YOUR_WANT",
                fmt::format("that is wanted by {}, not by you", NameOf(c, want->keeper)));
  }
  // Ended twice, by two devices of one keeper, it is ended.
  c.state.Edit<Want>(s.want).state = WantState::kEnded;
  return std::nullopt;
}

}  // namespace broodpact::registry
