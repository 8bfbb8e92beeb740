#include "client/replica/internal/ref_book.h"

#include "client/base/id.h"

namespace broodpact::replica {
namespace {

template <typename Subject>
std::string NameOf(std::string_view bytes) {
  std::optional<Subject> subject = registry::Decode<Subject>(bytes);
  return subject ? std::move(subject->name) : std::string();
}

}  // namespace

std::string NameIn(registry::Kind kind, std::string_view bytes) {
  switch (kind) {
    case registry::Kind::kCooperative:
      return NameOf<registry::Cooperative>(bytes);
    case registry::Kind::kKeeper:
      return NameOf<registry::Keeper>(bytes);
    case registry::Kind::kGroup:
      return NameOf<registry::Group>(bytes);
    case registry::Kind::kAnimal:
      return NameOf<registry::Animal>(bytes);
    case registry::Kind::kLoan:
      return NameOf<registry::Loan>(bytes);
    case registry::Kind::kClutch:
      return NameOf<registry::Clutch>(bytes);
    case registry::Kind::kForm:
      return NameOf<registry::Form>(bytes);
    case registry::Kind::kDevice:
    case registry::Kind::kInvite:
    case registry::Kind::kPairing:
    case registry::Kind::kLot:
    case registry::Kind::kClash:
    case registry::Kind::kFrozen:
    case registry::Kind::kVeto:
    case registry::Kind::kWant:
    case registry::Kind::kBranch:
    case registry::Kind::kStretch:
    case registry::Kind::kCarry:
    case registry::Kind::kMotion:
    case registry::Kind::kSealingKey:
    case registry::Kind::kSealedNote:
      return "";
  }
  return "";
}

void RefBook::Fetch(const std::vector<registry::SubjectKey>& keys) {
  std::vector<registry::SubjectKey> missing;
  for (const registry::SubjectKey& key : keys) {
    if (key.id != IdBytes{} && names_.emplace(key, "").second) missing.push_back(key);
  }
  if (missing.empty()) return;
  const auto values = source_.Subjects(missing);
  if (!values.ok() && status_.ok()) status_ = values.status();
  for (std::size_t i = 0; i < missing.size(); ++i) {
    std::string name;
    if (values.ok()) {
      const std::optional<std::string>& value = (*values)[i];
      if (value) name = NameIn(missing[i].kind, *value);
    }
    if (name.empty()) name = IdText(missing[i].id).substr(0, kIdShortSize);
    names_[missing[i]] = std::move(name);
  }
}

std::string RefBook::Name(registry::Kind kind, const IdBytes& id) {
  if (id == IdBytes{}) return "";
  const registry::SubjectKey key{kind, id};
  const auto known = names_.find(key);
  if (known != names_.end()) return known->second;
  Fetch({key});
  return names_[key];
}

std::vector<std::string> RefBook::Names(const std::vector<KeeperId>& keepers) {
  std::vector<std::string> names;
  names.reserve(keepers.size());
  for (const KeeperId& keeper : keepers) names.push_back(Name(keeper));
  return names;
}

}  // namespace broodpact::replica
