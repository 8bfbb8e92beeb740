#include "client/replica/internal/mates.h"

#include <algorithm>
#include <set>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/registry/index.h"
#include "client/registry/interval.h"
#include "client/replica/internal/bulk.h"

namespace broodpact::replica {
namespace {

// Open loans of one keeper that are looked through.
constexpr std::size_t kLoansMax = 1'000;

bool HasLiving(const registry::Clutch& clutch) {
  return std::ranges::any_of(clutch.counts, [](const registry::CountRecord& count) {
    return count.state == registry::CountState::kStanding && count.slings_living > 0;
  });
}

}  // namespace

absl::Status QueryForm(const std::string& message) {
  return Fail(absl::StatusCode::kInvalidArgument, "QUERY_FORM", message);
}

absl::StatusOr<std::optional<registry::Animal>> MateOf(const registry::Source& source,
                                                       const std::optional<AnimalId>& id,
                                                       facts::Sex sex) {
  if (!id) return std::optional<registry::Animal>();
  BP_ASSIGN_OR_RETURN(std::optional<registry::Animal> mate,
                      registry::Read<registry::Animal>(source, *id));
  if (!mate) {
    return Fail(absl::StatusCode::kNotFound, "UNKNOWN_SUBJECT",
                fmt::format("there is no animal {}", ToShortText(*id)));
  }
  if (mate->sex != sex) {
    const bool female = sex == facts::Sex::kFemale;
    return QueryForm(fmt::format("{} is not known to be {}; `broodpact animal sexed` records it",
                                 mate->name, female ? "a female" : "a male"));
  }
  return mate;
}

absl::StatusOr<GroupId> GroupOf(const std::optional<GroupId>& group,
                                const std::optional<registry::Animal>& mate) {
  if (group) return *group;
  if (mate) return mate->group;
  return QueryForm("a search needs a group, or an animal to find a mate for");
}

absl::StatusOr<std::map<AnimalId, std::uint32_t>> WaitingFor(
    const registry::Source& source, const std::vector<registry::Animal>& animals) {
  std::set<KeeperId> owners;
  std::map<AnimalId, std::uint32_t> waiting;
  for (const registry::Animal& animal : animals) {
    owners.insert(animal.owner);
    waiting[animal.id] = 0;
  }
  std::set<LoanId> ids;
  for (const KeeperId& owner : owners) {
    BP_ASSIGN_OR_RETURN(const auto loans,
                        IdsBehind<LoanId>(source, registry::LoansOfParty(owner), kLoansMax));
    ids.insert(loans.begin(), loans.end());
  }
  BP_ASSIGN_OR_RETURN(const auto loans, ReadMany<registry::Loan>(
                                            source, std::vector<LoanId>(ids.begin(), ids.end())));
  for (const registry::Loan& loan : loans) {
    const bool proposed =
        loan.state == registry::LoanState::kOffered || loan.state == registry::LoanState::kAskedFor;
    const auto animal = waiting.find(loan.animal);
    if (proposed && animal != waiting.end()) ++animal->second;
  }
  return waiting;
}

absl::StatusOr<std::map<AnimalId, Success>> SuccessesOf(
    const registry::Source& source, const std::vector<registry::Animal>& males) {
  std::map<AnimalId, Success> successes;
  std::vector<PairingId> pairing_ids;
  for (const registry::Animal& male : males) {
    pairing_ids.insert(pairing_ids.end(), male.pairings.begin(), male.pairings.end());
  }
  BP_ASSIGN_OR_RETURN(const auto own, ReadMany<registry::Pairing>(source, pairing_ids));
  std::set<AnimalId> female_ids;
  for (const registry::Pairing& pairing : own) female_ids.insert(pairing.female);
  BP_ASSIGN_OR_RETURN(const auto females,
                      ReadMany<registry::Animal>(
                          source, std::vector<AnimalId>(female_ids.begin(), female_ids.end())));
  std::vector<PairingId> all_pairings;
  std::vector<ClutchId> clutch_ids;
  for (const registry::Animal& female : females) {
    all_pairings.insert(all_pairings.end(), female.pairings.begin(), female.pairings.end());
    clutch_ids.insert(clutch_ids.end(), female.clutches.begin(), female.clutches.end());
  }
  BP_ASSIGN_OR_RETURN(const auto pairings, ReadMany<registry::Pairing>(source, all_pairings));
  BP_ASSIGN_OR_RETURN(const auto clutches, ReadMany<registry::Clutch>(source, clutch_ids));
  std::map<AnimalId, std::vector<registry::Pairing>> pairings_of;
  for (const registry::Pairing& pairing : pairings) {
    pairings_of[pairing.female].push_back(pairing);
  }
  std::map<AnimalId, const registry::Animal*> female_of;
  for (const registry::Animal& female : females) female_of[female.id] = &female;
  for (const registry::Clutch& clutch : clutches) {
    const auto female = female_of.find(clutch.female);
    if (female == female_of.end()) continue;
    for (const AnimalId& sire :
         registry::PossibleSires(*female->second, clutch.laying, pairings_of[clutch.female])) {
      Success& success = successes[sire];
      ++success.sacs;
      if (HasLiving(clutch)) ++success.hatched;
    }
  }
  return successes;
}

}  // namespace broodpact::replica
