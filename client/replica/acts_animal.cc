#include "client/replica/acts_animal.h"

#include <vector>

#include "client/replica/internal/mating.h"

namespace broodpact::replica {

absl::Status CheckHasCome(const Replica& replica, const DaySpan& day) {
  const Day today = replica.clock().Today();
  if (day.earliest <= today) return absl::OkStatus();
  return Fail(absl::StatusCode::kInvalidArgument, "DATE_IN_FUTURE",
              fmt::format("{} has not come yet: today is {} here; say when it happened, or look "
                          "at this machine's clock",
                          ToText(day), ToText(today)));
}

absl::StatusOr<Made<GroupId>> EnterGroup(Replica& replica, facts::GroupEntry entry) {
  entry.group = device::FreshId<GroupId>(replica.randomness());
  const GroupId id = entry.group;
  return ActMaking(replica, id, std::move(entry));
}

absl::StatusOr<Made<AnimalId>> EnterAnimal(Replica& replica, facts::AnimalEntry entry) {
  if (entry.hatching) BP_RETURN_IF_ERROR(CheckHasCome(replica, *entry.hatching));
  if (entry.maturity) BP_RETURN_IF_ERROR(CheckHasCome(replica, *entry.maturity));
  entry.animal = device::FreshId<AnimalId>(replica.randomness());
  const AnimalId id = entry.animal;
  return ActMaking(replica, id, std::move(entry));
}

absl::StatusOr<Acted> RecordMoult(Replica& replica, const facts::Moult& moult) {
  BP_RETURN_IF_ERROR(CheckHasCome(replica, moult.day));
  return replica.Act({moult});
}

absl::StatusOr<Acted> RecordMaturity(Replica& replica, const facts::Maturity& maturity,
                                     std::optional<facts::Sex> sex) {
  BP_RETURN_IF_ERROR(CheckHasCome(replica, maturity.day));
  std::vector<facts::Statement> statements;
  if (sex) {
    statements.push_back(facts::SexClaim{.animal = maturity.animal,
                                         .sex = *sex,
                                         .method = facts::SexMethod::kAdultForm,
                                         .day = maturity.day});
  }
  statements.push_back(maturity);
  return replica.Act(statements);
}

absl::StatusOr<Acted> ClaimSex(Replica& replica, const facts::SexClaim& claim) {
  BP_RETURN_IF_ERROR(CheckHasCome(replica, claim.day));
  return replica.Act({claim});
}

absl::StatusOr<Acted> RecordDeath(Replica& replica, const facts::Death& death) {
  BP_RETURN_IF_ERROR(CheckHasCome(replica, death.day));
  return replica.Act({death});
}

absl::StatusOr<Acted> GiveAnimal(Replica& replica, const AnimalId& animal,
                                 const KeeperId& receiver) {
  BP_ASSIGN_OR_RETURN(const registry::Animal known,
                      Known<registry::Animal>(replica, animal, "animal"));
  facts::Gift gift{
      .animal = animal, .receiver = receiver, .owner_token = known.owner_token, .holder_token = {}};
  BP_ASSIGN_OR_RETURN(const registry::Mating mating, MatingOf(replica.view(), known));
  gift.due_loans = registry::DuesOf(known, mating);
  if (known.holder == replica.identity().keeper) gift.holder_token = known.holder_token;
  return replica.Act({gift});
}

}  // namespace broodpact::replica
