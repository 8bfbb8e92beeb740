#include "client/replica/internal/readiness.h"

#include <algorithm>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/match/place.h"
#include "client/replica/internal/bulk.h"

namespace broodpact::replica {
namespace {

std::string_view Whose(const registry::Animal& animal) {
  return animal.sex == facts::Sex::kMale ? "his" : "her";
}

}  // namespace

std::string_view DistanceWord(match::Nearness nearness) {
  switch (nearness) {
    case match::Nearness::kOwn:
    case match::Nearness::kSameRegion:
      return "same region";
    case match::Nearness::kAbroad:
      return "abroad";
    case match::Nearness::kNotSaid:
      return "not said";
  }
  return "not said";
}

absl::Status Setting::PrepareKeepers(std::vector<KeeperId> keepers) {
  std::ranges::sort(keepers);
  keepers.erase(std::unique(keepers.begin(), keepers.end()), keepers.end());
  std::erase_if(keepers, [&](const KeeperId& keeper) { return regions_.contains(keeper); });
  BP_ASSIGN_OR_RETURN(const auto read, ReadMany<registry::Keeper>(source_, keepers));
  for (const registry::Keeper& keeper : read) {
    regions_[keeper.id] = keeper.region;
    if (keeper.has_left) left_.insert(keeper.id);
  }
  return absl::OkStatus();
}

absl::Status Setting::Prepare(const std::vector<registry::Animal>& animals) {
  std::vector<KeeperId> keepers{self_};
  std::vector<LoanId> loans;
  for (const registry::Animal& animal : animals) {
    keepers.push_back(animal.holder);
    if (!animal.loan.empty()) loans.push_back(animal.loan);
  }
  BP_RETURN_IF_ERROR(PrepareKeepers(std::move(keepers)));
  BP_ASSIGN_OR_RETURN(auto known, ReadMany<registry::Loan>(source_, loans));
  for (registry::Loan& loan : known) loans_.emplace(loan.id, std::move(loan));
  return absl::OkStatus();
}

std::string_view Setting::RegionOf(const KeeperId& keeper) const {
  const auto region = regions_.find(keeper);
  return region == regions_.end() ? std::string_view() : std::string_view(region->second);
}

Apart Setting::ApartOf(const KeeperId& one, const KeeperId& other) const {
  if (one == other) return {.nearness = match::Nearness::kOwn, .km = 0};
  const std::string_view here = RegionOf(one);
  const std::string_view there = RegionOf(other);
  if (here.empty() || there.empty()) return {};
  if (here == there) return {.nearness = match::Nearness::kSameRegion, .km = 0};
  return {.nearness = match::Nearness::kAbroad, .km = match::RegionDistanceKm(here, there)};
}

const registry::Loan* Setting::LoanOf(const registry::Animal& animal) const {
  const auto loan = loans_.find(animal.loan);
  return loan == loans_.end() ? nullptr : &loan->second;
}

bool Setting::HasLeft(const KeeperId& keeper) const {
  return left_.contains(keeper);
}

Readiness Setting::ReadinessFor(const KeeperId& keeper, const registry::Animal& animal) {
  using match::Availability;
  const registry::Loan* loan = LoanOf(animal);
  const bool comes_to_keeper = !keeper.empty() && animal.receiver == keeper;
  if (loan != nullptr) return ReadinessOnLoan(keeper, animal, *loan);
  if (animal.receiver.empty()) return {};
  return {comes_to_keeper ? Availability::kFree : Availability::kPromised, WayText(keeper, animal)};
}

Readiness Setting::ReadinessOnLoan(const KeeperId& keeper, const registry::Animal& animal,
                                   const registry::Loan& loan) {
  using match::Availability;
  const bool comes_home = animal.receiver == loan.lender;
  const bool is_home = animal.holder == loan.lender && animal.receiver.empty() && loan.dispatch;
  if (comes_home || is_home) {
    const std::string where =
        is_home ? "home"
                : fmt::format("on {} way back to {}", Whose(animal), refs_.Name(loan.lender));
    return {keeper == loan.lender ? Availability::kFree : Availability::kPromisedBefore,
            fmt::format("{}; loan {} is still open", where, refs_.Name(loan.id))};
  }
  const std::optional<Day>& back = loan.return_day;
  const std::string until =
      back ? fmt::format("until {}", ToText(*back)) : "with no day of return agreed";
  const std::string way = animal.receiver.empty() ? "" : WayText(keeper, animal);
  if (loan.borrower == keeper && !keeper.empty()) {
    if (animal.holder == keeper) return {Availability::kFree, "on loan to you " + until};
    return {Availability::kFree,
            way.empty() ? "promised to you " + until : fmt::format("{}, on loan {}", way, until)};
  }
  const std::string text = fmt::format("promised {}", until);
  return {back && *back <= day_ ? Availability::kPromisedBefore : Availability::kPromised,
          way.empty() ? text : fmt::format("{}, {}", way, text)};
}

std::string Setting::WayText(const KeeperId& keeper, const registry::Animal& animal) {
  const bool to_self = !keeper.empty() && animal.receiver == keeper;
  return fmt::format("on {} way to {}", Whose(animal),
                     to_self ? "you" : refs_.Name(animal.receiver));
}

}  // namespace broodpact::replica
