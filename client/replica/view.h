#pragma once

// The registry as it is seen from one place: subjects by name, lists, and single subjects as the
// messages that tables, JSON and the query service show (proto/broodpact/v1/registry.proto).
//
// Reads only. A view is cheap: it holds two references.

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "absl/status/statusor.h"

#include "broodpact/v1/registry.pb.h"
#include "client/base/day.h"
#include "client/facts/commit.h"
#include "client/match/candidates.h"
#include "client/match/females.h"
#include "client/match/homes.h"
#include "client/registry/layer.h"
#include "client/registry/state.h"
#include "client/registry/verdict.h"
#include "client/shares/curve.h"
#include "client/store/store.h"
#include "client/survival/expectations.h"

namespace broodpact::replica {

// Filter of lists of animals.
struct AnimalFilter {
  std::optional<GroupId> group{};
  std::optional<KeeperId> keeper{};  // owner or holder
  std::size_t count_max = 500;
  std::optional<AnimalId> after{};  // page: those after it in order of id
};

enum class Reasons : std::uint8_t { kLeftOut, kGiven };

// What a search is for.
struct MaleQuery {
  std::optional<GroupId> group{};  // the female's, if not named
  std::optional<AnimalId> female{};
  Day day{};  // when he is needed
  std::optional<double> offspring_inbreeding_max{};
  std::optional<std::int32_t> left_days_min{};
  std::size_t count_max = 50;
  std::optional<Day> today{};  // up to when lives were watched; nothing: `day`
  std::optional<std::uint32_t> distance_km_max{};
  std::optional<std::uint32_t> pairings_max{};
  std::optional<match::Availability> availability_max{};
  std::optional<double> diversity_gain_min{};
  std::optional<std::int32_t> mature_days_max{};
  match::Borders borders = match::Borders::kCrossed;
  std::vector<match::Criterion> ignored{};               // take no part in the order
  const survival::Expectations* expectations = nullptr;  // priors; nullptr: those that ship
  Reasons reasons = Reasons::kLeftOut;                   // why each stands where he stands
};

struct FemaleQuery {
  std::optional<GroupId> group{};  // the male's, if not named
  std::optional<AnimalId> male{};
  Day day{};  // when she is to be paired
  match::FemaleBounds bounds{};
  std::vector<match::FemaleCriterion> ignored{};  // take no part in the order
  Reasons reasons = Reasons::kLeftOut;
  std::size_t count_max = 50;
};

// What is planned for.
struct PlanQuery {
  GroupId group{};
  Day day{};                                         // of the pairings, or the middle of the season
  std::optional<double> offspring_inbreeding_max{};  // ceiling
  std::optional<std::uint32_t> distance_km_max{};
  std::uint32_t per_male = 2;    // females at most; 1 .. match::kCapacityMax
  std::uint32_t turn_days = 28;  // of a male's life, for each of them
  std::optional<Day> today{};    // up to when lives were watched; nothing: `day`
  const survival::Expectations* expectations = nullptr;
};

struct HomeQuery {
  GroupId group{};
  Day day{};
  match::HomeBounds bounds{};
  std::vector<match::HomeCriterion> ignored{};  // take no part in the order
  Reasons reasons = Reasons::kLeftOut;
  std::size_t count_max = 50;
};

// What a split is tried with in place of what is so.
struct WhatIf {
  std::optional<std::uint32_t> slings{};
  std::optional<facts::Method> method{};
  std::optional<facts::Carry> carry{};
};

// A curve as it is shown; `names` has the names of its keepers.
v1::SplitCurve CurveMessage(const shares::Curve& curve, const std::vector<std::string>& names);

// Which motions: those that wait for signatures, or all.
enum class MotionRange { kOpen, kAll };

class View {
 public:
  // `source` outlives the view. `self` is the keeper who looks; empty on a server.
  // `provisional` tells which subjects are; nullptr: none.
  View(const registry::Source& source, KeeperId self, const registry::Layer* provisional);

  // The subject that `text` names: by short name of an own subject first (an animal that the
  // keeper owns or holds), then by a short name that is the only one, also as "keeper/name", then
  // by an unambiguous beginning of the id (4 characters at least). Among own namesakes the living
  // one is meant. A lot has no name: "clutch" is the one that the keeper has of it,
  // "clutch/keeper" somebody else's.
  // Errors: NOT_FOUND with reason UNKNOWN_SUBJECT; INVALID_ARGUMENT with reason AMBIGUOUS_SUBJECT.
  // Both messages list candidates.
  absl::StatusOr<KeeperId> KeeperNamed(std::string_view text) const;
  absl::StatusOr<GroupId> GroupNamed(std::string_view text) const;
  absl::StatusOr<AnimalId> AnimalNamed(std::string_view text) const;
  absl::StatusOr<LoanId> LoanNamed(std::string_view text) const;
  absl::StatusOr<ClutchId> ClutchNamed(std::string_view text) const;
  absl::StatusOr<LotId> LotNamed(std::string_view text) const;
  absl::StatusOr<ClashId> ClashNamed(std::string_view text) const;  // by id
  absl::StatusOr<FormId> FormNamed(std::string_view text) const;
  // By an own device's label, or the beginning of an id (view_members.cc).
  absl::StatusOr<DeviceId> DeviceNamed(std::string_view text) const;
  absl::StatusOr<MotionId> MotionNamed(std::string_view text) const;

  // A keeper's devices; `own` is marked as the one that answers.
  absl::StatusOr<v1::DeviceList> Devices(const KeeperId& keeper, const DeviceId& own) const;
  absl::StatusOr<v1::MotionList> Motions(MotionRange which) const;

  // Single subjects. Errors: NOT_FOUND with reason UNKNOWN_SUBJECT; those of the source.
  absl::StatusOr<v1::Cooperative> Cooperative() const;
  absl::StatusOr<v1::Keeper> Keeper(const KeeperId& id) const;
  absl::StatusOr<v1::Group> Group(const GroupId& id) const;
  absl::StatusOr<v1::Animal> Animal(const AnimalId& id) const;
  absl::StatusOr<v1::Loan> Loan(const LoanId& id) const;
  absl::StatusOr<v1::Clutch> Clutch(const ClutchId& id) const;
  absl::StatusOr<v1::Lot> Lot(const LotId& id) const;  // with its story
  absl::StatusOr<v1::SavedTerms> Form(const FormId& id) const;
  absl::StatusOr<v1::Clash> Clash(const ClashId& id) const;

  // Lists, in order of name where there is one, else of id. Pages of animals follow in order of
  // id; each is in order of name.
  absl::StatusOr<v1::KeeperList> Keepers() const;
  absl::StatusOr<v1::GroupList> Groups() const;
  absl::StatusOr<v1::AnimalList> Animals(const AnimalFilter& filter) const;
  absl::StatusOr<v1::LoanList> Loans() const;
  absl::StatusOr<v1::LoanList> LoansOf(const KeeperId& keeper) const;  // those that are open
  absl::StatusOr<v1::ClutchList> Clutches() const;
  absl::StatusOr<v1::LotList> LotsOf(const KeeperId& keeper) const;
  absl::StatusOr<v1::SavedTermsList> Forms() const;
  absl::StatusOr<v1::ClashList> Clashes() const;  // those that are open
  absl::StatusOr<v1::ClashList> ClashesOf(const KeeperId& keeper) const;

  // What a keeper owes and is owed on a day, across loans and clutches (view_owed.cc); with
  // `other`, only between the two.
  absl::StatusOr<v1::OwedList> Owed(const KeeperId& keeper, const std::optional<KeeperId>& other,
                                    Day day) const;

  // The order in which the parties of a split pick slings that differ in size.
  // Errors: as for Split; INVALID_ARGUMENT with reason TOO_MANY_PICKS.
  absl::StatusOr<v1::PickingOrder> Picking(const ClutchId& clutch) const;

  // The split of a clutch: as recorded, and of what is not shared out yet as its terms and its
  // standing count imply.
  // Errors: FAILED_PRECONDITION with reason CLUTCH_NOT_COUNTED or TERMS_UNSIGNED.
  absl::StatusOr<v1::Split> Split(const ClutchId& clutch) const;
  // The split that would be, by another count or another way to share: what if. Without a count,
  // that of the count that stands. Errors: as Split.
  absl::StatusOr<v1::Split> SplitIf(const ClutchId& clutch, const WhatIf& what_if) const;
  // What each party would get of clutches of many sizes; the count of `what_if` is no matter.
  // Errors: FAILED_PRECONDITION with reason TERMS_UNSIGNED; those of shares::CurveOf.
  absl::StatusOr<v1::SplitCurve> SplitCurve(const ClutchId& clutch, const shares::SizeRange& range,
                                            const WhatIf& what_if) const;

  // The same for terms that are not proposed yet: the clauses come before the working, and what is
  // remarkable about them beside it. Errors: those of facts::CheckTerms.
  absl::StatusOr<v1::Split> SplitOfTerms(const facts::Terms& terms,
                                         const std::optional<Day>& return_day,
                                         std::uint32_t slings) const;
  absl::StatusOr<v1::SplitCurve> CurveOfTerms(const facts::Terms& terms,
                                              const shares::SizeRange& range) const;
  // The same for the terms of a loan.
  absl::StatusOr<v1::SplitCurve> CurveOfLoan(const LoanId& loan,
                                             const shares::SizeRange& range) const;

  // Searches (find_male.cc, find_female.cc, find_home.cc, kin.cc).
  // Errors: INVALID_ARGUMENT with reason QUERY_FORM (neither group nor animal, or the wrong sex).
  absl::StatusOr<v1::MaleMatchList> FindMales(const MaleQuery& query) const;
  absl::StatusOr<v1::FemaleMatchList> FindFemales(const FemaleQuery& query) const;
  absl::StatusOr<v1::HomeMatchList> FindHomes(const HomeQuery& query) const;
  absl::StatusOr<v1::Kinship> Kinship(const AnimalId& first, const AnimalId& second) const;

  // A plan for a season (plan.cc). A group in which nobody can be paired has an empty plan, whose
  // remarks say why.
  // Errors: RESOURCE_EXHAUSTED with reason PLAN_TOO_LARGE; NOT_FOUND with reason UNKNOWN_SUBJECT;
  // those of the source and of Pedigree::Of.
  absl::StatusOr<v1::Plan> Plan(const PlanQuery& query) const;
  absl::StatusOr<v1::VetoList> Vetoes() const;  // those that stand, in order of id

  // What is wanted and open on a day (wishes.cc): of everybody, in order of id; own ones with what
  // fits them.
  absl::StatusOr<v1::WantList> Wants(Day day) const;
  // What fits the keeper's own wants: the ids of want and subject, and a sentence.
  struct Fit {
    std::pair<IdBytes, IdBytes> what{};
    std::string sentence{};
  };
  absl::StatusOr<std::vector<Fit>> Fits(Day day) const;
  // The open want that `text`, the beginning of its id (4 characters at least), names.
  // Errors: as for the other names.
  absl::StatusOr<WantId> WantNamed(std::string_view text) const;

  const registry::Source& source() const { return source_; }
  const KeeperId& self() const { return self_; }

 private:
  const registry::Source& source_;
  KeeperId self_;
  const registry::Layer* provisional_;
};

// A verdict as it is shown.
v1::Verdict VerdictMessage(const registry::Verdict& verdict);

// A commit of the log, in words.
absl::StatusOr<v1::LogEntry> LogEntryOf(const View& view, const facts::Commit& commit,
                                        std::uint64_t arrival, const facts::ArrivalTimes& times,
                                        const registry::Verdict& verdict);

}  // namespace broodpact::replica
