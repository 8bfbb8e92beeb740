// Groups and animals: what they are, and what happens to them.

#include <utility>

#include "fmt/core.h"

#include "client/registry/index.h"
#include "client/registry/internal/rules.h"

namespace broodpact::registry {
namespace {

// A parent exists, is of a sex that may be, and is not the child.
Finding CheckParent(Case& c, const AnimalId& child, const AnimalId& parent, facts::Sex not_this) {
  if (parent.empty()) return std::nullopt;
  if (parent == child) return Refused("PARENT_ITSELF", "an animal is not its own parent");
  const Animal* found = c.state.Find<Animal>(parent);
  if (found == nullptr) return UnknownSubject("animal", parent.bytes);
  if (Finding f = CheckRoomOf(c, *found, found->offspring.size(), "offspring")) return f;
  if (found->sex != not_this) return std::nullopt;
  const bool female = not_this == facts::Sex::kFemale;
  return Refused("PARENT_SEX",
                 fmt::format("{} is known to be {} and cannot be the {}", NameOf(*found),
                             female ? "female" : "male", female ? "sire" : "dam"));
}

Finding CheckParents(Case& c, const facts::AnimalEntry& s) {
  if (Finding f = CheckParent(c, s.animal, s.sire, facts::Sex::kFemale)) return f;
  if (Finding f = CheckParent(c, s.animal, s.dam, facts::Sex::kMale)) return f;
  if (!s.sire.empty() && s.sire == s.dam) {
    return Refused("PARENT_SEX", fmt::format("{} cannot be both sire and dam", NameOf(c, s.sire)));
  }
  return std::nullopt;
}

std::string_view Word(facts::Sex sex) {
  switch (sex) {
    case facts::Sex::kUnknown:
      return "of unknown sex";
    case facts::Sex::kFemale:
      return "female";
    case facts::Sex::kMale:
      return "male";
  }
  return "";
}

// The animal that its owner or holder states something about; else why not.
Finding CheckOwnFact(Case& c, const AnimalId& id) {
  const Animal* animal = c.state.Find<Animal>(id);
  if (animal == nullptr) return UnknownSubject("animal", id.bytes);
  return CheckKeeps(c, *animal);
}

}  // namespace

void FlagAfterDeath(Case& c, const Animal& animal, const DaySpan& day) {
  if (!animal.death.has_value() || day.earliest <= animal.death->latest) return;
  Flag(c, "FLAG_AFTER_DEATH",
       fmt::format("{} lies after the death of {} on {}; one of the two dates is wrong",
                   ToText(day), NameOf(animal), ToText(*animal.death)));
}

void RecordDeath(Case& c, const AnimalId& id, const DaySpan& day, std::string_view cause) {
  const Animal* animal = c.state.Find<Animal>(id);
  if (animal->death.has_value()) {
    Flag(c, "FLAG_ALREADY_DEAD",
         fmt::format("{} is recorded as dead on {}; the first entry stands", NameOf(*animal),
                     ToText(*animal->death)));
    return;
  }
  FlagFuture(c, day);
  Animal& dead = c.state.Edit<Animal>(id);
  dead.death = day;
  dead.death_cause = cause;
}

Finding CheckAnimalName(Case& c, std::string_view name) {
  if (!c.state.IsNamed(OwnAnimalNamed(c.author(), name))) return std::nullopt;
  return Refused("NAME_TAKEN",
                 fmt::format("you have a living animal named {} already; take another name", name));
}

Animal& EnterAnimal(Case& c, const AnimalStart& start) {
  Animal& animal = c.state.Create<Animal>(start.animal);
  animal.group = start.group;
  animal.name = start.name;
  animal.owner = c.author();
  animal.holder = c.author();
  animal.owner_token = c.token;
  animal.holder_token = c.token;
  animal.owner_arrival = c.entry.arrival;
  animal.holder_arrival = c.entry.arrival;
  animal.sex = start.sex;
  animal.entry = c.entry;
  if (start.sex != facts::Sex::kUnknown) {
    animal.sex_claims.push_back(
        {.sex = start.sex, .method = start.method, .day = start.sex_day, .entry = c.entry});
  }
  ++c.state.EditCooperative().animals;
  return animal;
}

Finding Apply(Case& c, const facts::GroupEntry& s) {
  if (c.state.Find<Group>(s.group) != nullptr) return IdTaken("group", s.group.bytes);
  if (c.state.IsNamed(NamePrefix(Kind::kGroup, s.name))) {
    return Refused(
        "NAME_TAKEN",
        fmt::format("there is a group named {} already; use it, or take another name", s.name));
  }
  Group& group = c.state.Create<Group>(s.group);
  group.name = s.name;
  group.taxon = s.taxon;
  group.locality = s.locality;
  group.line = s.line;
  group.entry = c.entry;
  ++c.state.EditCooperative().groups;
  return std::nullopt;
}

Finding Apply(Case& c, const facts::AnimalEntry& s) {
  if (c.state.Find<Animal>(s.animal) != nullptr) return IdTaken("animal", s.animal.bytes);
  if (c.state.Find<Group>(s.group) == nullptr) return UnknownSubject("group", s.group.bytes);
  if (Finding f = CheckParents(c, s)) return f;
  if (Finding f = CheckAnimalName(c, s.name)) return f;

  // When the sex was told is not stated; it was known when this came in.
  const Day told = DayOfMillis(c.entry.time_ms);
  const GroupId group = OpenGroup(c, s.group);
  if (group != s.group) {
    Flag(c, "FLAG_GROUP_CLOSED",
         fmt::format("{} was merged into {}; {} is entered there", Known<Group>(c, s.group).name,
                     Known<Group>(c, group).name, s.name));
  }
  Animal& animal = EnterAnimal(c, {.animal = s.animal,
                                   .group = group,
                                   .name = s.name,
                                   .sex = s.sex,
                                   .method = s.sex_method,
                                   .sex_day = {.earliest = told, .latest = told}});
  animal.hatching = s.hatching;
  animal.maturity = s.maturity;
  animal.sire = s.sire;
  animal.dam = s.dam;
  if (s.hatching.has_value()) FlagFuture(c, *s.hatching);
  if (s.maturity.has_value()) FlagFuture(c, *s.maturity);
  NoteDescent(c, s.animal);
  return std::nullopt;
}

Finding Apply(Case& c, const facts::Moult& s) {
  if (Finding f = CheckOwnFact(c, s.animal)) return f;
  const Animal* before = c.state.Find<Animal>(s.animal);
  if (Finding f = CheckRoom(before->moults.size(), "moults")) return f;

  FlagFuture(c, s.day);
  FlagAfterDeath(c, *before, s.day);
  if (before->sex == facts::Sex::kMale && before->maturity.has_value() &&
      s.day.earliest > before->maturity->latest) {
    Flag(c, "FLAG_MALE_MOULT",
         fmt::format("{} is a male, mature since {}, and moults again; check sex and dates",
                     NameOf(*before), ToText(*before->maturity)));
  }
  c.state.Edit<Animal>(s.animal).moults.push_back(
      {.day = s.day, .moult_count = s.moult_count, .entry = c.entry});
  return std::nullopt;
}

Finding Apply(Case& c, const facts::Maturity& s) {
  if (Finding f = CheckOwnFact(c, s.animal)) return f;
  const Animal* before = c.state.Find<Animal>(s.animal);
  FlagFuture(c, s.day);
  FlagAfterDeath(c, *before, s.day);
  if (before->maturity.has_value() && before->maturity != s.day) {
    Flag(c, "FLAG_MATURITY_CHANGED",
         fmt::format("{} was recorded as mature on {}; this entry replaces it", NameOf(*before),
                     ToText(*before->maturity)));
  }
  c.state.Edit<Animal>(s.animal).maturity = s.day;
  return std::nullopt;
}

Finding Apply(Case& c, const facts::SexClaim& s) {
  if (Finding f = CheckOwnFact(c, s.animal)) return f;
  const Animal* before = c.state.Find<Animal>(s.animal);
  if (Finding f = CheckRoom(before->sex_claims.size(), "claims of sex")) return f;

  FlagFuture(c, s.day);
  if (before->sex != facts::Sex::kUnknown && before->sex != s.sex) {
    Flag(c, "FLAG_SEX_REVERSED",
         fmt::format("{} was said to be {} before and is now {}", NameOf(*before),
                     Word(before->sex), Word(s.sex)));
  }
  Animal& animal = c.state.Edit<Animal>(s.animal);
  animal.sex = s.sex;
  animal.sex_claims.push_back({.sex = s.sex, .method = s.method, .day = s.day, .entry = c.entry});
  return std::nullopt;
}

Finding Apply(Case& c, const facts::Death& s) {
  if (Finding f = CheckOwnFact(c, s.animal)) return f;
  RecordDeath(c, s.animal, s.day, s.cause);
  return std::nullopt;
}

}  // namespace broodpact::registry
