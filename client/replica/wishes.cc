// What keepers want, what fits it, and what they keep out of plans.

#include <algorithm>
#include <utility>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/registry/index.h"
#include "client/replica/internal/bulk.h"
#include "client/replica/internal/messages.h"
#include "client/replica/internal/readiness.h"
#include "client/replica/internal/vetoes.h"
#include "client/replica/internal/wants.h"
#include "client/replica/internal/words.h"
#include "client/replica/view.h"

namespace broodpact::replica {
namespace {

// Animals, and clutches, of one group that are looked through for what fits one want.
constexpr std::size_t kFitsMax = 10'000;
constexpr std::size_t kIdTypedMin = 4;

// What fits wants, a group at a time.
class Fitting {
 public:
  Fitting(const registry::Source& source, RefBook& refs, const KeeperId& self, Day day)
      : source_(source), refs_(refs), self_(self), day_(day), setting_(source, refs, self, day) {}

  absl::StatusOr<std::vector<View::Fit>> Of(const registry::Want& want) {
    switch (want.what) {
      case facts::WantKind::kMale:
        return Animals(want, registry::MatureMalesOfGroup(want.group));
      case facts::WantKind::kFemale:
        return Animals(want, registry::FemalesOfGroup(want.group));
      case facts::WantKind::kUnspecified:
      case facts::WantKind::kSlings:
        break;
    }
    return Slings(want);
  }

 private:
  // Animals of others that are free.
  absl::StatusOr<std::vector<View::Fit>> Animals(const registry::Want& want,
                                                 const std::string& prefix) {
    BP_ASSIGN_OR_RETURN(const std::vector<AnimalId> ids,
                        IdsBehind<AnimalId>(source_, prefix, kFitsMax));
    BP_ASSIGN_OR_RETURN(auto animals, ReadMany<registry::Animal>(source_, ids));
    std::erase_if(animals, [&](const registry::Animal& animal) {
      return animal.owner == self_ || animal.holder == self_ ||
             (animal.maturity && animal.maturity->earliest > day_);
    });
    BP_RETURN_IF_ERROR(setting_.Prepare(animals));
    std::vector<View::Fit> fits;
    for (const registry::Animal& animal : animals) {
      if (setting_.HasLeft(animal.holder)) continue;
      if (setting_.ReadinessOf(animal).availability != match::Availability::kFree) continue;
      fits.push_back({.what = {want.id.bytes, animal.id.bytes},
                      .sentence = fmt::format("{} of {} is free ({}, group {})", animal.name,
                                              refs_.Name(animal.owner),
                                              DistanceWord(setting_.ApartOf(animal).nearness),
                                              refs_.Name(want.group))});
    }
    return fits;
  }

  // Clutches of the group in which others have slings, or an undivided count of them.
  absl::StatusOr<std::vector<View::Fit>> Slings(const registry::Want& want) {
    BP_ASSIGN_OR_RETURN(
        const std::vector<AnimalId> ids,
        IdsBehind<AnimalId>(source_, registry::FemalesOfGroup(want.group), kFitsMax));
    BP_ASSIGN_OR_RETURN(const auto females, ReadMany<registry::Animal>(source_, ids));
    std::vector<ClutchId> clutch_ids;
    for (const registry::Animal& female : females) {
      clutch_ids.insert(clutch_ids.end(), female.clutches.begin(), female.clutches.end());
    }
    BP_ASSIGN_OR_RETURN(const auto clutches, ReadMany<registry::Clutch>(source_, clutch_ids));
    std::vector<View::Fit> fits;
    for (const registry::Clutch& clutch : clutches) {
      const std::uint32_t slings = clutch.accounts.undivided + clutch.accounts.in_lots;
      if (slings == 0 || slings < want.count || clutch.owner == self_) continue;
      fits.push_back({.what = {want.id.bytes, clutch.id.bytes},
                      .sentence = fmt::format("clutch {} of {} has {} (group {})",
                                              refs_.Name(clutch.id), refs_.Name(clutch.owner),
                                              replica::Slings(slings), refs_.Name(want.group))});
    }
    return fits;
  }

  const registry::Source& source_;
  RefBook& refs_;
  KeeperId self_;
  Day day_;
  Setting setting_;
};

}  // namespace

absl::StatusOr<v1::WantList> View::Wants(Day day) const {
  std::vector<registry::Want> wants;
  std::optional<IdBytes> after;
  while (wants.size() < kWantsMax) {
    constexpr std::size_t kPage = 1'000;
    BP_ASSIGN_OR_RETURN(const std::vector<registry::StoredSubject> page,
                        source_.SubjectsOfKind(registry::Kind::kWant, after, kPage));
    for (const registry::StoredSubject& stored : page) {
      BP_RETURN_IF_ERROR(DecodeOnto(wants, stored.value));
    }
    if (page.size() < kPage) break;
    after = page.back().id;
  }
  std::erase_if(wants, [&](const registry::Want& want) { return !IsOpen(want, day); });
  RefBook refs(source_);
  Fitting fitting(source_, refs, self_, day);
  v1::WantList list;
  for (const registry::Want& want : wants) {
    v1::Want& message = *list.add_wants();
    message = WantMessage(want, refs, provisional_);
    if (want.keeper != self_) continue;
    BP_ASSIGN_OR_RETURN(const std::vector<Fit> fits, fitting.Of(want));
    for (const Fit& fit : fits) message.add_fits(fit.sentence);
  }
  BP_RETURN_IF_ERROR(refs.status());
  return list;
}

absl::StatusOr<std::vector<View::Fit>> View::Fits(Day day) const {
  BP_ASSIGN_OR_RETURN(const std::vector<registry::Want> wants,
                      WantsBehind(source_, registry::WantsOfKeeper(self_), day));
  RefBook refs(source_);
  Fitting fitting(source_, refs, self_, day);
  std::vector<Fit> all;
  for (const registry::Want& want : wants) {
    BP_ASSIGN_OR_RETURN(std::vector<Fit> fits, fitting.Of(want));
    all.insert(all.end(), std::make_move_iterator(fits.begin()),
               std::make_move_iterator(fits.end()));
  }
  BP_RETURN_IF_ERROR(refs.status());
  return all;
}

absl::StatusOr<WantId> View::WantNamed(std::string_view text) const {
  BP_ASSIGN_OR_RETURN(const std::vector<WantId> ids,
                      IdsBehind<WantId>(source_, registry::WantsOfKeeper(self_), kWantsMax));
  std::vector<WantId> found;
  for (const WantId& id : ids) {
    if (text.size() >= kIdTypedMin && ToText(id).starts_with(text)) found.push_back(id);
  }
  if (found.size() == 1) return found.front();
  if (found.empty()) {
    return Fail(absl::StatusCode::kNotFound, "UNKNOWN_SUBJECT",
                fmt::format("no open want of yours begins with '{}'; `broodpact want list` shows "
                            "them",
                            text));
  }
  return Fail(absl::StatusCode::kInvalidArgument, "AMBIGUOUS_SUBJECT",
              fmt::format("'{}' begins {} of your wants; type more of the id", text, found.size()));
}

absl::StatusOr<v1::VetoList> View::Vetoes() const {
  BP_ASSIGN_OR_RETURN(const std::vector<VetoId> ids,
                      IdsBehind<VetoId>(source_, registry::StandingVetoes(), kVetoesMax));
  BP_ASSIGN_OR_RETURN(const auto vetoes, ReadMany<registry::Veto>(source_, ids));
  RefBook refs(source_);
  v1::VetoList list;
  for (const registry::Veto& veto : vetoes) {
    v1::Veto& message = *list.add_vetoes();
    message.set_id(ToText(veto.id));
    *message.mutable_keeper() = refs.Ref(veto.keeper);
    if (!veto.animal.empty()) *message.mutable_animal() = refs.Ref(veto.animal);
    if (!veto.other_animal.empty()) *message.mutable_other_animal() = refs.Ref(veto.other_animal);
    if (!veto.other_keeper.empty()) *message.mutable_other_keeper() = refs.Ref(veto.other_keeper);
    message.set_standing(StandingOf(provisional_, registry::Kind::kVeto, veto.id.bytes));
  }
  BP_RETURN_IF_ERROR(refs.status());
  return list;
}

}  // namespace broodpact::replica
