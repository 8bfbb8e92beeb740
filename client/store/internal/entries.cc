#include "client/store/internal/entries.h"

#include "client/registry/index.h"

namespace broodpact::store {
namespace {

template <typename Subject>
std::optional<std::vector<std::string>> EntriesAs(std::string_view value) {
  const std::optional<Subject> subject = registry::Decode<Subject>(value);
  if (!subject.has_value()) return std::nullopt;
  return registry::IndexEntriesOf(*subject);
}

}  // namespace

std::optional<std::vector<std::string>> EntriesOf(registry::Kind kind, std::string_view value) {
  switch (kind) {
    case registry::Kind::kCooperative:
      return EntriesAs<registry::Cooperative>(value);
    case registry::Kind::kKeeper:
      return EntriesAs<registry::Keeper>(value);
    case registry::Kind::kDevice:
      return EntriesAs<registry::Device>(value);
    case registry::Kind::kInvite:
      return EntriesAs<registry::Invite>(value);
    case registry::Kind::kGroup:
      return EntriesAs<registry::Group>(value);
    case registry::Kind::kAnimal:
      return EntriesAs<registry::Animal>(value);
    case registry::Kind::kLoan:
      return EntriesAs<registry::Loan>(value);
    case registry::Kind::kPairing:
      return EntriesAs<registry::Pairing>(value);
    case registry::Kind::kClutch:
      return EntriesAs<registry::Clutch>(value);
    case registry::Kind::kLot:
      return EntriesAs<registry::Lot>(value);
    case registry::Kind::kClash:
      return EntriesAs<registry::Clash>(value);
    case registry::Kind::kFrozen:
      return EntriesAs<registry::Frozen>(value);
    case registry::Kind::kVeto:
      return EntriesAs<registry::Veto>(value);
    case registry::Kind::kWant:
      return EntriesAs<registry::Want>(value);
    case registry::Kind::kSealingKey:
      return EntriesAs<registry::SealingKey>(value);
    case registry::Kind::kSealedNote:
      return EntriesAs<registry::SealedNote>(value);
    case registry::Kind::kBranch:
      return EntriesAs<registry::Branch>(value);
    case registry::Kind::kStretch:
      return EntriesAs<registry::Stretch>(value);
    case registry::Kind::kForm:
      return EntriesAs<registry::Form>(value);
    case registry::Kind::kCarry:
      return EntriesAs<registry::Carry>(value);
    case registry::Kind::kMotion:
      return EntriesAs<registry::Motion>(value);
  }
  return std::nullopt;
}

}  // namespace broodpact::store
