#include "client/replica/internal/words.h"

#include <fmt/format.h>

namespace broodpact::replica {

std::string_view RoleWord(facts::Role role) {
  switch (role) {
    case facts::Role::kUnspecified:
      return "";
    case facts::Role::kKeeper:
      return "keeper";
    case facts::Role::kRegistrar:
      return "registrar";
    case facts::Role::kObserver:
      return "observer";
  }
  return "";
}

std::string_view SexWord(facts::Sex sex) {
  switch (sex) {
    case facts::Sex::kUnknown:
      return "unknown";
    case facts::Sex::kFemale:
      return "female";
    case facts::Sex::kMale:
      return "male";
  }
  return "unknown";
}

std::string_view NameStatusWord(facts::NameStatus status) {
  switch (status) {
    case facts::NameStatus::kUnspecified:
      return "";
    case facts::NameStatus::kAccepted:
      return "accepted";
    case facts::NameStatus::kSynonym:
      return "synonym";
    case facts::NameStatus::kNewCombination:
      return "new combination";
    case facts::NameStatus::kMisapplied:
      return "misapplied";
    case facts::NameStatus::kTradeName:
      return "trade name";
  }
  return "";
}

std::string_view MethodWord(facts::SexMethod method) {
  switch (method) {
    case facts::SexMethod::kUnspecified:
      return "";
    case facts::SexMethod::kShedSkin:
      return "shed skin";
    case facts::SexMethod::kVentral:
      return "ventral";
    case facts::SexMethod::kAdultForm:
      return "adult form";
  }
  return "";
}

std::string_view ConditionWord(facts::ArrivalCondition value) {
  switch (value) {
    case facts::ArrivalCondition::kUnspecified:
      return "";
    case facts::ArrivalCondition::kWell:
      return "well";
    case facts::ArrivalCondition::kHurt:
      return "hurt";
    case facts::ArrivalCondition::kDead:
      return "dead";
  }
  return "";
}

std::string_view OutcomeWord(facts::PairingOutcome outcome) {
  switch (outcome) {
    case facts::PairingOutcome::kUnspecified:
      return "";
    case facts::PairingOutcome::kInsertionSeen:
      return "insertion seen";
    case facts::PairingOutcome::kRefused:
      return "refused";
    case facts::PairingOutcome::kMaleEaten:
      return "male eaten";
  }
  return "";
}

std::string_view PartyRoleWord(facts::PartyRole role) {
  switch (role) {
    case facts::PartyRole::kUnspecified:
      return "";
    case facts::PartyRole::kMaleOwner:
      return "owner of the male";
    case facts::PartyRole::kFemaleOwner:
      return "owner of the female";
    case facts::PartyRole::kRaiser:
      return "raiser";
    case facts::PartyRole::kCooperative:
      return "cooperative";
    case facts::PartyRole::kEarlierLender:
      return "earlier lender";
  }
  return "";
}

std::string_view LoanStateWord(registry::LoanState state) {
  switch (state) {
    case registry::LoanState::kOffered:
      return "offered";
    case registry::LoanState::kAskedFor:
      return "asked for";
    case registry::LoanState::kInForce:
      return "in force";
    case registry::LoanState::kDeclined:
      return "declined";
    case registry::LoanState::kSuperseded:
      return "superseded";
    case registry::LoanState::kClosed:
      return "closed";
  }
  return "";
}

std::string_view VersionStateWord(registry::VersionState state) {
  switch (state) {
    case registry::VersionState::kOpen:
      return "open";
    case registry::VersionState::kDeclined:
      return "declined";
    case registry::VersionState::kSuperseded:
      return "superseded";
    case registry::VersionState::kReplaced:
      return "replaced";
  }
  return "";
}

std::string_view CountStateWord(registry::CountState state) {
  switch (state) {
    case registry::CountState::kStanding:
      return "standing";
    case registry::CountState::kReplaced:
      return "replaced";
    case registry::CountState::kRival:
      return "rival";
    case registry::CountState::kSetAside:
      return "set aside";
    case registry::CountState::kSame:
      return "found the same";
  }
  return "";
}

std::string_view ClashStateWord(registry::ClashState state) {
  switch (state) {
    case registry::ClashState::kOpen:
      return "open";
    case registry::ClashState::kSettled:
      return "settled";
    case registry::ClashState::kWithdrawn:
      return "withdrawn";
  }
  return "";
}

std::string_view ClutchStateWord(const registry::Clutch& clutch) {
  if (clutch.shared_out) return "shared out";
  if (!clutch.counts.empty()) return "counted";
  if (clutch.loss) return "lost";
  if (clutch.pulling) return "pulled";
  return "in the sac";
}

std::string_view WantWord(facts::WantKind kind) {
  switch (kind) {
    case facts::WantKind::kUnspecified:
    case facts::WantKind::kSlings:
      return "slings";
    case facts::WantKind::kMale:
      return "a male";
    case facts::WantKind::kFemale:
      return "a female";
  }
  return "slings";
}

std::string_view FieldWord(facts::SealedField field) {
  switch (field) {
    case facts::SealedField::kUnspecified:
      break;
    case facts::SealedField::kLocality:
      return "locality";
    case facts::SealedField::kAddress:
      return "address";
    case facts::SealedField::kPrice:
      return "price";
    case facts::SealedField::kNote:
      return "note";
  }
  return "";
}

std::string_view KindWord(registry::Kind kind) {
  switch (kind) {
    case registry::Kind::kCooperative:
      return "cooperative";
    case registry::Kind::kKeeper:
      return "keeper";
    case registry::Kind::kDevice:
      return "device";
    case registry::Kind::kInvite:
      return "invitation";
    case registry::Kind::kGroup:
      return "group";
    case registry::Kind::kAnimal:
      return "animal";
    case registry::Kind::kLoan:
      return "loan";
    case registry::Kind::kPairing:
      return "pairing";
    case registry::Kind::kClutch:
      return "clutch";
    case registry::Kind::kLot:
      return "lot";
    case registry::Kind::kClash:
      return "clash";
    case registry::Kind::kFrozen:
      return "subject";
    case registry::Kind::kVeto:
      return "veto";
    case registry::Kind::kWant:
      return "want";
    case registry::Kind::kBranch:
      return "branch";
    case registry::Kind::kStretch:
      return "stretch of a chain";
    case registry::Kind::kForm:
      return "form of terms";
    case registry::Kind::kCarry:
      return "carry";
    case registry::Kind::kMotion:
      return "motion";
    case registry::Kind::kSealingKey:
      return "sealing key";
    case registry::Kind::kSealedNote:
      return "sealed note";
  }
  return "subject";
}

std::string DayText(const std::optional<DaySpan>& span) {
  return span ? ToText(*span) : "";
}

std::string Slings(std::uint32_t slings) {
  return slings == 1 ? "1 sling" : fmt::format("{} slings", slings);
}

std::string FractionText(std::uint32_t numerator, std::uint32_t denominator) {
  return numerator == 0 ? "0" : fmt::format("{}/{}", numerator, denominator);
}

}  // namespace broodpact::replica
