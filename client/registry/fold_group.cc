// Names, bounds and founders of groups: NameUse, GroupMove, GroupClosure, FounderKinship.

#include "fmt/core.h"

#include "client/registry/internal/rules.h"

namespace broodpact::registry {
namespace {

Finding CheckRegistrar(Case& c, std::string_view what) {
  if (Known<Keeper>(c, c.author()).role == facts::Role::kRegistrar) return std::nullopt;
  return Void("NOT_REGISTRAR", fmt::format("only a registrar may {}; ask one", what));
}

Finding CheckOpen(Case& c, const GroupId& id) {
  const Group* group = c.state.Find<Group>(id);
  if (group == nullptr) return UnknownSubject("group", id.bytes);
  if (group->successor.empty()) return std::nullopt;
  return Refused("GROUP_CLOSED", fmt::format("{} was merged into {}; name that one", group->name,
                                             Known<Group>(c, group->successor).name));
}

}  // namespace

GroupId OpenGroup(Case& c, GroupId group) {
  // A group is merged into an open one only, so that this comes to an end.
  for (;;) {
    const GroupId& successor = Known<Group>(c, group).successor;
    if (successor.empty()) return group;
    group = successor;
  }
}

Finding Apply(Case& c, const facts::NameUse& s) {
  const Group* before = c.state.Find<Group>(s.group);
  if (before == nullptr) return UnknownSubject("group", s.group.bytes);
  const bool accepted = s.status == facts::NameStatus::kAccepted;
  if (accepted) {
    if (Finding f = CheckRegistrar(c, "accept a name")) return f;
  }
  if (Finding f = CheckRoom(before->names.size(), "names")) return f;

  if (s.since.has_value()) FlagFuture(c, *s.since);
  Group& group = c.state.Edit<Group>(s.group);
  if (group.names.empty()) {
    // The name that it was entered by, which nobody has said anything about.
    group.names.push_back(
        {.name = group.taxon, .status = facts::NameStatus::kAccepted, .entry = group.entry});
  }
  group.names.push_back(
      {.name = s.name, .status = s.status, .since = s.since, .source = s.source, .entry = c.entry});
  if (accepted) group.taxon = s.name;
  return std::nullopt;
}

Finding Apply(Case& c, const facts::GroupMove& s) {
  if (Finding f = CheckOpen(c, s.group)) return f;
  for (const AnimalId& animal : s.animals) {
    if (c.state.Find<Animal>(animal) == nullptr) return UnknownSubject("animal", animal.bytes);
  }
  if (Finding f = CheckRegistrar(c, "move animals to another group")) return f;
  for (const AnimalId& id : s.animals) {
    const Animal* animal = c.state.Find<Animal>(id);
    if (animal->group == s.group) continue;
    if (Finding f = CheckRoom(animal->past_groups.size(), "moves")) return f;
    Animal& moved = c.state.Edit<Animal>(id);
    moved.past_groups.push_back({.group = moved.group, .reason = s.reason, .entry = c.entry});
    moved.group = s.group;
  }
  return std::nullopt;
}

Finding Apply(Case& c, const facts::GroupClosure& s) {
  if (Finding f = CheckOpen(c, s.group)) return f;
  if (Finding f = CheckOpen(c, s.successor)) return f;
  if (Finding f = CheckRegistrar(c, "merge groups")) return f;
  if (s.group == s.successor) {
    return Refused("SUCCESSOR_ITSELF", "a group is merged into another one");
  }
  Group& group = c.state.Edit<Group>(s.group);
  group.successor = s.successor;
  group.closure_reason = s.reason;
  group.closure = c.entry;
  return std::nullopt;
}

Finding Apply(Case& c, const facts::FounderKinship& s) {
  if (Finding f = CheckOpen(c, s.group)) return f;
  if (Finding f = CheckRegistrar(c, "say how close founders are taken to be")) return f;
  if (Finding f = CheckRoom(Known<Group>(c, s.group).founder_kinships.size(), "statements")) {
    return f;
  }
  c.state.Edit<Group>(s.group).founder_kinships.push_back({.numerator = s.numerator,
                                                           .denominator = s.denominator,
                                                           .reason = s.reason,
                                                           .entry = c.entry});
  return std::nullopt;
}

}  // namespace broodpact::registry
